"""Every command is there, explains itself, and finds its database."""

import click
import msgspec
import pytest
from by_hand import Hand
from curing_story import day

from labelsvc import facts, settings
from labelsvc.cli.group import labelsvc

MADE_BY_THE_PROGRAM = {"issue_label", "reprint_label", "void_label"}  # by tag, sale-label, reprint and void, never by hand
CONTEXT = click.Context(labelsvc, info_name="labelsvc")
NAMES = labelsvc.list_commands(CONTEXT)


def _command(name: str) -> click.Command:
    found = labelsvc.get_command(CONTEXT, name)
    assert found is not None
    return found


def test_commands_when_listed_then_each_stands_once():
    assert len(NAMES) == len(set(NAMES))


def test_commands_when_compared_with_the_kinds_of_facts_then_each_kind_has_a_friendly_one():
    assert {kind.replace("_", "-") for kind in set(facts.KINDS) - MADE_BY_THE_PROGRAM} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_command_when_asked_for_help_then_it_and_each_option_explain_themselves(tmp_path, name: str):
    command = _command(name)
    assert command.help
    assert command.get_short_help_str()
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts[0]}"
    answer = Hand(tmp_path / "none.db").ask(name, "--help")
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.startswith(f"Usage: labelsvc {name}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", NAMES)
def test_command_when_it_touches_a_ledger_then_it_takes_a_database(name: str):
    assert "--database" in [option for parameter in _command(name).params for option in parameter.opts]


@pytest.mark.parametrize("kind", sorted(set(facts.KINDS) - MADE_BY_THE_PROGRAM))
def test_friendly_command_when_compared_with_its_kind_then_it_takes_every_field(kind: str):
    taken = {parameter.name.rstrip("_") for parameter in _command(kind.replace("_", "-")).params if parameter.name}
    fields = {field.encode_name for field in msgspec.structs.fields(facts.KINDS[kind])}
    assert fields <= taken


@pytest.mark.parametrize("name", ["lot", "list", "doses", "trace", "recall", "verify"])
def test_reading_command_when_a_script_asks_then_it_takes_json(name: str):
    assert "--json" in [option for parameter in _command(name).params for option in parameter.opts]


def test_program_when_called_alone_then_its_help(tmp_path):
    answer = Hand(tmp_path / "none.db").ask()
    assert answer.out.startswith("Usage: labelsvc [OPTIONS] COMMAND")
    assert len(answer.out.splitlines()) > len(NAMES)
    assert answer.err == ""


def test_customer_when_a_consumer_then_the_fact_says_so(hand: Hand):
    hand("customer", "Mrs Example", "--no-business", "--at", day(3))
    hand("customer", "Corner Shop", "--at", day(3))
    assert [fact["body"]["given"].get("business", True) for fact in hand.sealed()] == [False, True]


def test_database_when_the_environment_names_it_then_commands_use_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LABELSVC_DATABASE", f"sqlite:///{tmp_path}/from_environment.db")
    monkeypatch.setenv("LABELSVC_WHO", "Ada")
    hand = Hand(tmp_path / "from_environment.db")
    assert hand.ask("supplier", "Hill Farm").code == 0
    assert [fact["recorded_by"] for fact in hand.sealed()] == ["Ada"]
    assert not (tmp_path / settings.DATABASE).exists()


def test_database_when_nothing_names_it_then_a_file_in_the_folder_one_works_in(hand: Hand, tmp_path):
    assert hand.ask("supplier", "Hill Farm").code == 0
    assert (tmp_path / settings.DATABASE).is_file()
    assert not hand.database.exists()


def test_database_when_named_by_option_and_environment_then_the_option_counts(hand: Hand, tmp_path, monkeypatch):
    monkeypatch.setenv("LABELSVC_DATABASE", str(tmp_path / "other.db"))
    hand("supplier", "Hill Farm")
    assert hand.database.is_file()
    assert not (tmp_path / "other.db").exists()


def test_records_when_two_folders_are_worked_in_then_they_do_not_meet(tmp_path):
    here, there = Hand(tmp_path / "here.db"), Hand(tmp_path / "there.db")
    here("supplier", "Hill Farm")
    assert (here.facts(), there.facts()) == (1, 0)
