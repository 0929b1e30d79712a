"""The comparison as it reaches the report: whole fleet, one crew, one account, and with names hidden."""

from datetime import date

import pytest

from fleetaudit.auditing.run import audit
from fleetaudit.catalogue.shipped import load
from fleetaudit.crews.naming import Standing
from fleetaudit.writing.assemble import assemble
from fleetaudit.writing.origin import Origin
from tests.crews.test_counts import LARGE, RIGHT, SMALL
from tests.frames import frame_of

AS_OF = date(2026, 11, 1)


def rows():
    """Four invented crews with the same jobs; Crew Birch fits one small restrictor in a third of them."""
    for crew in ("Crew Alder", "Crew Birch", "Crew Cedar", "Crew Dogwood"):
        for number in range(36):
            wrong = SMALL if crew == "Crew Birch" and number % 3 == 0 else LARGE if number == 7 else RIGHT
            yield wrong | {
                "unit_id": f"{crew[5]}-{number}",
                "crew": crew,
                "account": f"Account {number % 5} (invented)",
            }


@pytest.fixture(scope="module")
def result():
    catalogue = load()
    return audit(frame_of(list(rows()), catalogue), catalogue, AS_OF)


def reported(result, **wanted):
    return assemble(
        result, Origin("0", "made.xlsx", "made.xlsx", ("Units",), "0f" * 32, (), AS_OF, "us", **wanted)
    )


def test_the_crew_with_one_small_size_is_said_to_differ(result):
    crews = {group.name: group for group in reported(result).crews.crews}
    assert [name for name, group in crews.items() if group.standing is Standing.DIFFERENT] == ["Crew Birch"]
    birch = crews["Crew Birch"]
    assert (birch.tally.units, birch.tally.wrong, birch.tally.small) == (36, 13, 12)
    assert birch.with_one_rating == 12
    assert birch.one_rating_m3_s == pytest.approx(2 * 6.309020e-5, rel=1e-5)  # 2 gpm, NIST SP 811


def test_codes_are_those_of_the_units(result):
    """A code stands for one crew all through the report, and no name is left in it."""
    shown, hidden = reported(result), reported(result, hide_crew_names=True)
    assert "Birch" not in repr(hidden.crews)
    code = {named.crew: coded.crew for named, coded in zip(shown.units, hidden.units, strict=True)}
    by_name = {group.name: group.tally for group in shown.crews.crews}
    assert {code[name]: tally for name, tally in by_name.items()} == {
        group.name: group.tally for group in hidden.crews.crews
    }


def test_a_report_for_one_crew_shows_no_other(result):
    crews = reported(result, crew="crew birch").crews
    assert [group.name for group in crews.crews] == ["Crew Birch"]
    assert crews.crews == tuple(g for g in reported(result).crews.crews if g.name == "Crew Birch")


def test_a_report_for_one_account_compares_nobody(result):
    assert reported(result, account="Account 1 (invented)").crews is None
