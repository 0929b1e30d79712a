"""Sentences about crews: what is said, in which numbers, and what is never said."""

import math
import re
from collections import Counter
from itertools import product

import pytest
from msgspec.structs import replace

from fleetaudit.catalogue.shipped import load
from fleetaudit.crews import naming
from fleetaudit.crews.counts import Job, SetUpCounts, Tally
from fleetaudit.crews.naming import Direction, Standing
from fleetaudit.crews.report import report
from fleetaudit.crews.rules import rules_of
from fleetaudit.crews.strata import Kind, Stratum
from fleetaudit.writing import crew_words as own
from fleetaudit.writing.display import Display

RULES = rules_of(load())
US = Display("us")
#: words that turn a comparison into a table of people, in any form
NEVER = re.compile(
    r"\b(worst|bad|guilt\w*|rank\w*|league|blame\w*|culprit\w*|fault\w*|fail\w*)\b", re.IGNORECASE
)


MINE, REST = Tally(61, 11, 9, 2, 0), Tally(739, 48, 20, 28, 0)


def group(mine=MINE, name="Crew Birch"):
    others = {f"Other {number}": {0: Tally(*(count // 4 for count in REST))} for number in range(4)}
    return next(g for g in naming.compared({name: {0: mine}, **others}, RULES) if g.name == name)


def test_a_difference_is_said_with_number_chance_cause_and_next_step():
    found = group()
    assert found.standing is Standing.DIFFERENT
    text = own.sentence(found, RULES, US)
    assert text.startswith("Crew Birch set up 61 units that can be compared.")
    # 61 * (11 + 48)/(61 + 736) = 4.5 by hand, 11/4.5 = 2.4
    assert "about 5 wrong set-ups; 11 were found (2.4 times as many)" in text
    assert "9 of the 11 have a restrictor that is too small, which suggests one cause" in text
    # the sign test of 9 against 2: 2 * (55 + 11 + 1) / 2**11 is 1 / 15.3
    assert "so one-sided a count would come about once in 15 times" in text
    assert "Next: look at 3 of these units on site" in text


def test_chance_is_said_in_whole_times():
    text = own.sentence(replace(group(), p_more=0.0016618), RULES, US)
    assert "about once in 600 times" in text  # 1 / 0.0016618 = 602
    text = own.sentence(replace(group(), p_more=1e-9), RULES, US)
    assert "less than once in 100,000 times" in text


def test_a_lean_that_chance_brings_is_called_that():
    text = own.sentence(replace(group(), direction_p=1.0), RULES, US)
    assert "so one-sided a count more often than not, so it says little" in text
    text = own.sentence(replace(group(), direction_p=1e-9), RULES, US)
    assert "so one-sided a count would come less than once in 100,000 times" in text
    text = own.sentence(replace(group(), direction=Direction.HOUSING, direction_p=math.nan), RULES, US)
    assert "one-sided" not in text


def test_direction_shared_by_all_points_away_from_the_crew():
    text = own.sentence(replace(group(), others_alike=True), RULES, US)
    assert "Mistakes of the other crews lie the same way" in text
    text = own.sentence(replace(group(), direction=Direction.NONE), RULES, US)
    assert "no single cause stands out" in text


def test_one_rating_is_said_in_the_readers_units():
    """5 gpm is 18.9 L/min (NIST SP 811)."""
    found = replace(group(), one_rating_m3_s=3.15451e-4, with_one_rating=8)
    assert "8 of the 11 carry the same restrictor, 5 gpm." in own.sentence(found, RULES, US)
    assert "18.9 L/min" in own.sentence(found, RULES, Display("metric"))


def test_few_units_say_how_little_is_known():
    """0 of 8 ends at 0.3244 by the score interval (scipy), about 1 in 3."""
    text = own.sentence(group(Tally(8, 0, 0, 0, 0)), RULES, US)
    assert text == (
        "Crew Birch set up 8 units that can be compared: too few to tell. 0 wrong of 8 could still be "
        "as many as 1 in 3 in the long run."
    )
    assert "more than half" in own.sentence(group(Tally(1, 0, 0, 0, 0)), RULES, US)
    assert "set up 1 unit that" in own.sentence(group(Tally(1, 0, 0, 0, 0)), RULES, US)


def test_usual_counts_are_said():
    text = own.sentence(group(Tally(61, 4, 2, 2, 0)), RULES, US)
    assert "4 were found: within normal variation (chance alone brings 1 to 8)." in text
    assert "none was found" in own.sentence(group(Tally(20, 0, 0, 0, 0)), RULES, US)


def test_better_is_worth_copying():
    found = replace(group(Tally(100, 1, 1, 0, 0)), standing=Standing.BETTER)
    assert "Worth asking how it is done, and telling the other crews." in own.sentence(found, RULES, US)


TALLIES = (
    (61, 11, 9, 2, 0),
    (61, 11, 5, 6, 0),
    (61, 11, 1, 0, 10),
    (61, 11, 0, 11, 0),
    (61, 4, 2, 2, 0),
    (3, 3, 3, 0, 0),
    (400, 0, 0, 0, 0),
    (15, 1, 1, 0, 0),
)
SHAPES = [group(Tally(*tally)) for tally in TALLIES]


@pytest.mark.parametrize(("shape", "standing"), list(product(SHAPES, Standing)))
@pytest.mark.parametrize("subject", list(own.Subject))
def test_no_sentence_accuses_anybody(shape, standing, subject):
    """All standings of all shapes, sensible or not: whole sentences, no open hole, none of the words."""
    text = own.sentence(replace(shape, standing=standing), RULES, US, subject)
    assert not NEVER.search(text), text
    assert "nan" not in text and "inf" not in text.replace("in fleets", ""), text
    assert text.endswith(".")
    assert "{" not in text


def counts():
    jobs = {
        Job(crew, mm, rate, year, "small"): Tally(12, 2, 1, 1, 0)
        for crew in ("Crew Alder", "Crew Birch", "")
        for mm in (254, 610)
        for rate in (2716, 8149)
        for year in (2012, 2019)
    }
    return SetUpCounts(jobs, left_out=Counter({"in the list twice": 3}))


def test_method_says_strata_gates_and_what_is_left_out():
    shown = report(counts(), RULES)
    text = " ".join(own.method(shown))
    assert "32 of 192 units are" in text
    assert "8 kinds of job by vessel size, medium, install year" in text
    assert "3 units, in the list twice" in text
    assert "96 units whose row names no crew" in text
    assert "3.5%" in text and "1.5 times" in text and "10 units" in text
    assert not NEVER.search(text)
    assert not NEVER.search(" ".join((*own.QUESTIONS, *own.HINTS.values())))


def test_method_says_what_the_trials_found():
    assert re.search(r"invented fleets", own.TRIED)
    assert len(re.findall(r"\d+ (?:of|in) 100|in \d+", own.TRIED)) >= 2


def test_too_few_units_to_part_are_said():
    small = {
        job: tally for job, tally in counts().jobs.items() if job.year == 2012 and job.diameter_mm == 254
    }
    tiny = {job: tally._replace(units=3, wrong=0, small=0, large=0) for job, tally in small.items()}
    assert "all jobs count as alike" in own.method(report(SetUpCounts(tiny), RULES))[1]
    assert "No unit names a crew" in own.method(report(SetUpCounts(), RULES))[1]


@pytest.mark.parametrize(
    ("kinds", "label"),
    [
        (
            (Kind(0, 1, 403),),
            "vessels up to 10.5 in; media washed at over 7 to 11 gpm/ft²; set up 2015 to 2019",
        ),
        (
            (Kind(2, 0, 403), Kind(3, 2, 404), Kind(3, 4, -1)),
            "vessels over 14.5 in; media washed at up to 7 gpm/ft² or over 11 to 19 gpm/ft² and beds in "
            "layers; set up 2015 to 2024 or in an unknown year",
        ),
        (
            (Kind(-1, -1, -1), Kind(0, -1, -1)),
            "vessels of unknown size or up to 10.5 in; media washed at an unknown rate; "
            "install year not known",
        ),
        (
            tuple(Kind(vessel, medium, 404) for vessel in range(4) for medium in range(4)),
            "vessels of any size; any medium; set up 2020 to 2024",
        ),
    ],
)
def test_kinds_of_job_in_words(kinds, label):
    assert own.stratum_label(Stratum(kinds, 30, 2), RULES, US) == label


def test_table_has_a_cell_for_each_heading():
    for shape in SHAPES:
        cells = own.row(shape)
        assert len(cells) == len(own.HEADINGS)
        assert not any("nan" in cell for cell in cells)
    assert own.row(group(Tally(8, 0, 0, 0, 0)))[10:14] == ("", "", "", "")
