"""The tables: one of facts, which is the truth, and the projections that can be dropped and rebuilt to the same content."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, Table, Text

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_Id = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows only for INTEGER PRIMARY KEY
_Text = Text().with_variant(
    Text(collation="C"), "postgresql"
)  # ordered by code points whatever the server's language, as SQLite does

facts = Table(
    "facts",
    metadata,
    Column("seq", _Id, primary_key=True, autoincrement=False),
    Column("kind", _Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("happened_at", _Text, nullable=False),
    Column("recorded_at", _Text, nullable=False),
    Column("recorded_by", _Text, nullable=False),
    Column("body", _Text, nullable=False),
    Column("previous_hash", _Text, nullable=False),
    Column("hash", _Text, nullable=False),
)

# What each fact says today, after corrections.
effective = Table(
    "effective",
    metadata,
    Column("fact", _Id, primary_key=True, autoincrement=False),
    Column("kind", _Text, nullable=False),
    Column("at", _Text, nullable=False),
    Column("day", _Text, nullable=False),
    Column("body", _Text),  # NULL where the fact was taken back
    Column("codes", _Text, nullable=False),
    Column("read_as", _Text, nullable=False),
    Column("corrected_by", BigInteger),
    Column("issues", _Text, nullable=False),
)
Index("ix_effective_at", effective.c.at, effective.c.fact)
Index("ix_effective_kind", effective.c.kind, effective.c.fact)

# What was known of a subject (a lot, or a card such as a product) after each fact that touched it; NULL where it only
# looked. It answers "as of", and which facts to derive again when one changes.
timeline = Table(
    "timeline",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("subject", _Text, nullable=False),
    Column("at", _Text, nullable=False),
    Column("fact", BigInteger, nullable=False),
    Column("state", _Text),
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
    Column("code", _Text, nullable=False, unique=True),
    Column("kind", _Text, nullable=False),
    Column("name", _Text, nullable=False),
    Column("state", _Text, nullable=False),
    Column("place", _Text),
    Column("milligrams", BigInteger, nullable=False),
    Column("made_milligrams", BigInteger, nullable=False),
    Column("supplier_key", _Text),
    Column("ingredient_key", _Text),
    Column("began_at", _Text, nullable=False),
    Column("at", _Text, nullable=False),
    Column("fact", BigInteger, nullable=False),
    Column("came_in", BigInteger, nullable=False),  # all milligrams that ever went into it, but for what a buyer brought back
    Column("shown", _Text, nullable=False),  # JSON: what an answer shows of it
    Column("known", _Text, nullable=False),
)
Index("ix_lots_supplier_key", lots.c.supplier_key, lots.c.began_at)
Index("ix_lots_ingredient_key", lots.c.ingredient_key, lots.c.began_at)
Index("ix_lots_kind", lots.c.kind, lots.c.id)
Index("ix_lots_began_at", lots.c.began_at, lots.c.kind)
_HERE = lots.c.milligrams > 0
Index("ix_lots_here", lots.c.state, lots.c.id, sqlite_where=_HERE, postgresql_where=_HERE)

postings = Table(
    "postings",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("fact", BigInteger, nullable=False),
    Column("flow", Integer, nullable=False),
    Column("account", _Text, nullable=False),
    Column("kind", _Text, nullable=False),
    Column("milligrams", BigInteger, nullable=False),
    Column("lot", BigInteger, ForeignKey("lots.id")),
    Column("alone_with", _Text),  # the kind of the end, where the flow is nothing but this lot and that end
)
Index("ix_postings_fact", postings.c.fact, postings.c.flow)
# A balance adds up the postings of tens of thousands of lots, those of a flow of their own apart: it reads nothing but this.
_SUMS = (postings.c.lot, postings.c.alone_with, postings.c.fact, postings.c.flow, postings.c.milligrams)
Index("ix_postings_lot", *_SUMS)

# Who got which lot, and what came back: sold, given away, eaten at our own table, tasted.
handed_over = Table(
    "handed_over",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("fact", BigInteger, nullable=False),
    Column("lot", BigInteger, ForeignKey("lots.id"), nullable=False),
    Column("account", _Text, nullable=False),
    Column("kind", _Text, nullable=False),
    Column("name", _Text, nullable=False),
    Column("name_key", _Text, nullable=False),
    Column("milligrams", BigInteger, nullable=False),  # negative came back
    Column("at", _Text, nullable=False),
    Column("day", _Text, nullable=False),
    Column("document", _Text),
)
Index("ix_handed_over_fact", handed_over.c.fact)
Index("ix_handed_over_lot", handed_over.c.lot)
Index("ix_handed_over_name_key", handed_over.c.name_key, handed_over.c.day)
Index("ix_handed_over_day", handed_over.c.day)

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
    Column("thing", _Text, nullable=False),
    Column("kind", _Text, nullable=False),
    Column("begins", _Text, nullable=False),
    Column("ends", _Text),
    Column("first_day", Integer, nullable=False),  # of begins, counted from the year 1
    Column("days", Integer),  # to the day of ends; NULL while it lasts
)
# Who was there on a day began no longer before it than the longest stay there lasted, or is there still: a search for those
# who met reads that stretch, and not all the years.
Index("ix_contacts_first_day", contacts.c.kind, contacts.c.thing, contacts.c.first_day)
Index("ix_contacts_days", contacts.c.kind, contacts.c.thing, contacts.c.days)
_LASTS = contacts.c.ends.is_(None)
Index("ix_contacts_lasting", contacts.c.kind, contacts.c.thing, sqlite_where=_LASTS, postgresql_where=_LASTS)
Index("ix_contacts_thing", contacts.c.kind, contacts.c.thing, contacts.c.begins)
Index("ix_contacts_lot", contacts.c.lot)

# Markers, ear tags and suppliers' numbers that lead to a lot.
aliases = Table(
    "aliases",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("alias", _Text, nullable=False),
    Column("lot", BigInteger, ForeignKey("lots.id"), nullable=False),
)
Index("ix_aliases_alias", aliases.c.alias)
Index("ix_aliases_lot", aliases.c.lot)

# The number of the last lot code given out on a day. Only ever grows: codes are unique for ever.
counters = Table("counters", metadata, Column("day", _Text, primary_key=True), Column("last", Integer, nullable=False))

# The people who stand at the bench. Not in the sealed chain: a secret or a name must be able to change and to go.
people = Table(
    "people",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("name", _Text, nullable=False),
    Column("name_key", _Text, nullable=False, unique=True),
    Column("role", _Text, nullable=False),
    Column("pin_hash", _Text),
    Column("badge_digest", _Text, unique=True),
    Column("left_on", _Text),
    Column("password_hash", _Text),
)

# The browsers that someone signed in by a password: a person's own device, or a bench that people share by PIN and badge.
sign_ins = Table(
    "sign_ins",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("digest", _Text, nullable=False, unique=True),
    Column("person", BigInteger, ForeignKey("people.id"), nullable=False),
    Column("device", _Text, nullable=False),
    Column("is_station", Boolean, nullable=False),
    Column("began_at", _Text, nullable=False),
    Column("seen_at", _Text, nullable=False),
    Column("ended_at", _Text),
)

# What programs sign in by.
tokens = Table(
    "tokens",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("digest", _Text, nullable=False, unique=True),
    Column("name", _Text, nullable=False),
    Column("role", _Text, nullable=False),
    Column("made_by", _Text, nullable=False),
    Column("made_at", _Text, nullable=False),
    Column("ends_on", _Text, nullable=False),
    Column("ended_at", _Text),
)

# The printers of the workshop. Not in the sealed chain: one breaks, another stands in its place, and labels stay as they were.
printers = Table(
    "printers",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("name", _Text, nullable=False),
    Column("name_key", _Text, nullable=False, unique=True),
    Column("uri", _Text, nullable=False),
    Column("layouts", _Text, nullable=False),  # JSON: names of the layouts whose stock is loaded
    Column("dots_per_mm", Integer),  # of its head; NULL where it did not say
)

# What was sent to them, press by press, and what they said of it: it is told after a restart too. Only the last are kept.
sendings = Table(
    "sendings",
    metadata,
    Column("id", _Id, primary_key=True),
    Column("printer", _Text, nullable=False),
    Column("uri", _Text, nullable=False),
    Column("dots_per_mm", Integer),
    Column("kind", _Text, nullable=False),
    Column("labels", _Text, nullable=False),  # JSON: of each its fact, lots, title, job, how it ended, and whether that is unsure
    Column("problem", _Text, nullable=False),
    Column("is_sent", Boolean, nullable=False),
    Column("again", BigInteger),
)

# Wrong PINs and passwords since the last right one, by person and by address.
tries = Table(
    "tries",
    metadata,
    Column("key", _Text, primary_key=True),
    Column("wrong", Integer, nullable=False),
    Column("last_at", _Text, nullable=False),
    Column("wait_until", _Text),
)

# Requests that came with a key, and what was answered: a retry gets the same answer. No projection, and no fact.
requests = Table(
    "requests",
    metadata,
    Column("key", _Text, primary_key=True),
    Column("digest", _Text, nullable=False),
    Column("fact", BigInteger, nullable=False),
    Column("answer", _Text, nullable=False),
)

# Photographs and papers, by the SHA-256 of their content. Facts hold only the hash: one can be erased, and the chain stays whole.
attachments = Table(
    "attachments",
    metadata,
    Column("digest", _Text, primary_key=True),
    Column("media_type", _Text, nullable=False),
    Column("content", LargeBinary),
    Column("kept_at", _Text, nullable=False),
    Column("kept_by", _Text, nullable=False),
    Column("erased_on", _Text),
)

# What is personal in the facts, by the key that stands in its place there. Erased, it leaves the day and no text.
personal = Table(
    "personal",
    metadata,
    Column("key", _Text, primary_key=True),
    Column("fact", BigInteger, nullable=False),
    Column("whose", _Text, nullable=False),
    Column("text", _Text, nullable=False),
    Column("salt", _Text),  # NULL once it is erased
    Column("erased_on", _Text),
    Column("erased_by", _Text),
    Column("erased_why", _Text),
)
Index("ix_personal_whose", personal.c.whose)
Index("ix_personal_fact", personal.c.fact)

PROJECTIONS = (
    aliases,
    contacts,
    links,
    handed_over,
    postings,
    timeline,
    effective,
    lots,
)  # in an order that they can be emptied in
