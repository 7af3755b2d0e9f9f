"""The tables: one of facts, which is the truth, and the projections that can be dropped and rebuilt to the same content."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, Integer, MetaData, Table, Text

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_Id = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows only for INTEGER PRIMARY KEY

facts = Table(
    "facts",
    metadata,
    Column("seq", _Id, primary_key=True, autoincrement=False),
    Column("kind", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("happened_at", Text, nullable=False),
    Column("recorded_at", Text, nullable=False),
    Column("recorded_by", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("previous_hash", Text, nullable=False),
    Column("hash", Text, nullable=False),
)

# What each fact says today, after corrections.
effective = Table(
    "effective",
    metadata,
    Column("fact", _Id, primary_key=True, autoincrement=False),
    Column("kind", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("day", Text, nullable=False),
    Column("body", Text),  # NULL where the fact was taken back
    Column("codes", Text, nullable=False),
    Column("read_as", Text, nullable=False),
    Column("corrected_by", BigInteger),
    Column("issues", Text, nullable=False),
)
Index("ix_effective_at", effective.c.at, effective.c.fact)

# What was known of a subject (a lot, or a card such as a product) after each fact that touched it; NULL where it only
# looked. It answers "as of", and which facts to derive again when one changes.
timeline = Table(
    "timeline",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("subject", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("fact", BigInteger, nullable=False),
    Column("state", Text),
)
Index("ix_timeline_subject", timeline.c.subject, timeline.c.at, timeline.c.fact, unique=True)
Index("ix_timeline_fact", timeline.c.fact)
# Cards are looked at by thousands of facts and changed by few: what is known of them is found without reading the looks.
_KNOWN = timeline.c.state.is_not(None)
Index("ix_timeline_known", timeline.c.subject, timeline.c.at, timeline.c.fact, sqlite_where=_KNOWN, postgresql_where=_KNOWN)

# Each lot as it stands now. The number is the key of links; the printed code is unique and never the key.
lots = Table(
    "lots",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("code", Text, nullable=False, unique=True),
    Column("kind", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("state", Text, nullable=False),
    Column("place", Text),
    Column("milligrams", BigInteger, nullable=False),
    Column("made_milligrams", BigInteger, nullable=False),
    Column("supplier_key", Text),
    Column("ingredient_key", Text),
    Column("began_at", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("fact", BigInteger, nullable=False),
    Column("known", Text, nullable=False),
)
Index("ix_lots_supplier_key", lots.c.supplier_key, lots.c.began_at)
Index("ix_lots_ingredient_key", lots.c.ingredient_key, lots.c.began_at)
Index("ix_lots_began_at", lots.c.began_at, lots.c.kind)
_HERE = lots.c.milligrams > 0
Index("ix_lots_here", lots.c.state, lots.c.id, sqlite_where=_HERE, postgresql_where=_HERE)

postings = Table(
    "postings",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("fact", BigInteger, nullable=False),
    Column("flow", Integer, nullable=False),
    Column("account", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("milligrams", BigInteger, nullable=False),
    Column("lot", BigInteger, ForeignKey("lots.id")),
)
Index("ix_postings_fact", postings.c.fact, postings.c.flow)
Index("ix_postings_lot", postings.c.lot)

# Within a flow every lot that gives goes into every lot that receives, by the receiver's share of the flow.
links = Table(
    "links",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("fact", BigInteger, nullable=False),
    Column("giver", BigInteger, ForeignKey("lots.id"), nullable=False),
    Column("receiver", BigInteger, ForeignKey("lots.id"), nullable=False),
    Column("milligrams", BigInteger, nullable=False),
)
Index("ix_links_down", links.c.giver, links.c.receiver, links.c.milligrams)
Index("ix_links_up", links.c.receiver, links.c.giver, links.c.milligrams)
Index("ix_links_fact", links.c.fact)

# When a lot was in a tub, a room or a packing session: what it may have met there.
contacts = Table(
    "contacts",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("lot", BigInteger, ForeignKey("lots.id"), nullable=False),
    Column("thing", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("begins", Text, nullable=False),
    Column("ends", Text),
)
Index("ix_contacts_thing", contacts.c.kind, contacts.c.thing, contacts.c.begins)
Index("ix_contacts_lot", contacts.c.lot)

# Markers, ear tags and suppliers' numbers that lead to a lot.
aliases = Table(
    "aliases",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("alias", Text, nullable=False),
    Column("lot", BigInteger, ForeignKey("lots.id"), nullable=False),
)
Index("ix_aliases_alias", aliases.c.alias)
Index("ix_aliases_lot", aliases.c.lot)

# The number of the last lot code given out on a day. Only ever grows: codes are unique for ever.
counters = Table("counters", metadata, Column("day", Text, primary_key=True), Column("last", Integer, nullable=False))

PROJECTIONS = (aliases, contacts, links, postings, timeline, effective, lots)  # in an order that they can be emptied in
