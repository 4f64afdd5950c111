"""The command that compares a table of lifts, with its text, its JSON and its refusals."""

import argparse
import json
import math
import re
from pathlib import Path
from typing import Any

import pytest

from trapline.analyses import design_tests
from trapline.cli import compare
from trapline.cli.main import main
from trapline.errors import InputProblem, InvalidValue, TraplineError
from trapline.science.permutation import permutation_test

TABLE = """\
bait,catch,soak_h,place,round,condition
fish,9,24,1,1,fished
liver,1,24,2,1,
fish,8,24,3,1,fished
liver,0,24,4,1,fished
fish,7,24,5,1,fished
liver,2,24,6,1,fished
fish,,24,7,1,fished
liver,5,24,8,1,robbed
none,0,24,9,1,fished
none,1,24,10,1,fished
"""


@pytest.fixture
def command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Write a table, run the command on it, and return what it printed."""

    def run(text: str, *words: str, encoding: str = "utf-8") -> str:
        path = tmp_path / "lifts.csv"
        path.write_text(text, encoding=encoding)
        parser = argparse.ArgumentParser()
        compare.add_parser(parser.add_subparsers())
        args = parser.parse_args(["compare", str(path), "--no-settle", *words])
        assert args.run(args) == 0
        return capsys.readouterr().out

    return run


def test_the_json_is_one_object_with_the_answer(command: Any) -> None:
    answer = json.loads(command(TABLE, "--json"))

    assert [bait["bait"] for bait in answer["baits"]] == ["fish", "liver", "none"]
    assert [row["row"] for row in answer["excluded"]] == [7, 8]
    assert {ratio["reference"] for ratio in answer["ratios"]} == {"none"}
    assert answer["winner"] == "fish"


def test_the_reference_can_be_chosen(command: Any) -> None:
    answer = json.loads(command(TABLE, "--json", "--reference", "liver"))

    assert {ratio["reference"] for ratio in answer["ratios"]} == {"liver"}


def test_the_text_shows_rates_verdict_and_rows_left_out(command: Any) -> None:
    text = command(TABLE)

    lines = text.splitlines()
    assert " ".join(lines[0].split()) == "Bait Traps Counted Catch Soak h Per 24 h (95 %) Best"
    assert lines[1].split()[:5] == ["fish", "4", "3", "24", "72.0"]
    assert "Fish is the winner" in text
    assert "  row 7: the catch is blank" in lines
    assert "  row 8: robbed: no valid count" in lines


def test_no_chance_is_shown_as_certain_and_none_for_a_trap_without_bait(command: Any) -> None:
    rows = "fish,30,24\nfish,33,24\nfish,31,24\nliver,1,24\nliver,0,24\nliver,1,24\nnone,50,24\n"
    table = command("bait,catch,soak_h\n" + rows)

    shown = {line.split()[0]: line.split("  ")[-1].strip() for line in table.splitlines()[1:4]}
    assert shown == {"fish": "over 99 %", "liver": "under 1 %", "none": "-"}


def test_trips_are_told_apart_whatever_the_case_of_their_header(command: Any) -> None:
    rows = [
        f"{bait},{catch + (trip == 'b')},24,{place},1,{trip}"
        for trip in "ab"
        for place, (bait, catch) in enumerate([("fish", 5), ("liver", 2)] * 2)
    ]
    answers = [
        json.loads(command("\n".join([f"bait,catch,soak_h,place,round,{head}", *rows]), "--json"))
        for head in ("trip", "Trip")
    ]

    assert answers[1]["spread"]["trips"] is not None
    assert answers[0] == answers[1]


def test_soaks_on_old_bait_are_left_out_and_counted_by_a_switch(command: Any) -> None:
    rows = ["fish,9,24,No", "fish,8,24,", "liver,1,24,no", "liver,2,24,n", "liver,30,24,Yes"]
    rows += ["liver,33,24,y", "liver,31,24,1"]
    table = "\n".join(["bait,catch,soak_h,Old bait", *rows])

    answer = json.loads(command(table, "--json"))
    assert [row["row"] for row in answer["excluded"]] == [5, 6, 7]
    assert {bait["bait"]: bait["catch"] for bait in answer["baits"]} == {"fish": 17, "liver": 3}
    assert "old bait counted, as baits of its own: " in command(table)
    with pytest.raises(InvalidValue, match="perhaps") as problem:
        command(f"{table}\nfish,9,24,perhaps")
    assert "line 9" in problem.value.where


def test_a_bait_alone_is_not_called_the_best(command: Any) -> None:
    lines = command("bait,catch,soak_h\nfish,3,24\nfish,4,24\nnone,0,24\n").splitlines()

    assert [line.split()[-1] for line in lines[1:3]] == ["-", "-"]


def test_columns_that_are_not_read_may_share_a_header(command: Any) -> None:
    table = "note,bait,catch,soak_h,note,Catch by eye\nx,fish,3,24,y,9\nx,liver,1,24,y,9\n"
    answer = json.loads(command(table, "--json"))

    assert [bait["catch"] for bait in answer["baits"]] == [3, 1]


def test_the_text_says_when_disturbed_traps_would_change_it(command: Any) -> None:
    rows = "fish,9,24\nfish,7,24\nfish,8,24\nliver,2,24\nliver,2,24\nliver,1,24\n"
    disturbed = "fish,0,24,disturbed\n" * 2
    table = "bait,catch,soak_h,condition\n" + rows.replace("24\n", "24,\n") + disturbed

    text = command(table)
    assert "This would change with" in text
    assert "  disturbed traps counted: leads fish" in text


def test_the_test_is_made_once(command: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def count(*args: Any, **kwargs: Any) -> Any:
        asked.append(args)
        return permutation_test(*args, **kwargs)

    monkeypatch.setattr(design_tests, "permutation_test", count)
    text = command(TABLE + "fish,0,24,11,1,disturbed\n")
    assert "Fish" in text
    assert len(asked) == 1


def test_what_would_settle_it_is_simulated_unless_it_is_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "lifts.csv"
    path.write_text(TABLE.replace("fish,9", "fish,3").replace("fish,8", "fish,2"), encoding="utf-8")
    assert main(["compare", str(path), "--json"]) == 0
    with_it = json.loads(capsys.readouterr().out)
    assert main(["compare", str(path), "--json", "--no-settle"]) == 0
    without = json.loads(capsys.readouterr().out)

    assert without["settle"] is None
    assert {"x1.5", "x2", "x3", "assumed"} <= set(with_it["settle"])
    assert {"rounds", "traps_a_bait"} <= set(with_it["settle"]["x2"])
    assert with_it["baits"] == without["baits"]


def test_a_factor_of_ones_own_is_asked_for(command: Any) -> None:
    twice, thrice = (
        json.loads(command(TABLE, "--json", "--factor", factor))["ratios"][0] for factor in "23"
    )

    assert (twice["factor"], thrice["factor"]) == (2.0, 3.0)
    assert twice["beats_by_factor"] > thrice["beats_by_factor"]
    assert "3 times as much:" in command(TABLE, "--factor", "3")


@pytest.mark.parametrize("factor", ["0.5", "much", "nan", "-2"])
def test_a_factor_that_is_none_is_refused(
    factor: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", str(tmp_path / "lifts.csv"), "--factor", factor]) == 2
    assert f"--factor: '{factor}' is no number from 1 to 1000." in capsys.readouterr().err


def test_large_and_small_numbers_are_written_without_powers_of_ten(command: Any) -> None:
    rows = [f"{bait},{catch},24" for bait, catch in (("a", 3000), ("b", 61000), ("c", 0))] * 4
    text = command("\n".join(["bait,catch,soak_h", *rows]))

    assert not re.search(r"\de[+-]\d", text)
    assert "under 0.001" in text


def test_a_table_is_compared_as_a_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lifts.csv"
    path.write_text(TABLE)

    assert main(["compare", str(path), "--trip", "June"]) == 2
    assert capsys.readouterr().err == "--trip: A table is compared as a whole. Leave it out.\n"


def test_the_catch_may_be_taken_to_grow_otherwise_with_the_soak(command: Any) -> None:
    table = "bait,catch,soak_h\n" + "".join(
        f"{bait},{catch},{soak_h}\n"
        for bait, catch, soak_h in [("fish", 9, 48), ("fish", 8, 48), ("liver", 4, 12),
                                    ("liver", 5, 12)]
    )  # fmt: skip
    found = {
        soak: json.loads(command(table, "--json", "--soak", soak))
        for soak in ("power", "linear", "saturating")
    }

    assert found["power"]["effort"]["exponent"] is not None
    assert found["linear"]["effort"]["exponent"] is None
    assert found["saturating"]["effort"]["saturation_per_h"] == 0.05
    liver = {soak: answer["ratios"][0]["ratio"]["median"] for soak, answer in found.items()}
    # In step: (4.5 / 12) / (8.5 / 48) = 2.1; a soak that levels off took less time to fill.
    assert liver["linear"] > liver["power"] > 1
    assert liver["linear"] == pytest.approx(2.1, rel=0.1)
    grown = math.expm1(-0.05 * 48) / math.expm1(-0.05 * 12)
    assert liver["saturating"] == pytest.approx(4.5 / 8.5 * grown, rel=0.1)


def test_semicolons_and_decimal_commas_are_read(command: Any) -> None:
    answer = json.loads(command("bait;catch;soak_h\nfish;3;22,5\nliver;1;22,5\n", "--json"))

    assert answer["baits"][0]["soak_h"] == 22.5


def test_names_in_any_letters_come_through(command: Any) -> None:
    answer = json.loads(command("bait,catch,soak_h\nål,3,24\n鱼,1,24\n", "--json"))

    assert [bait["bait"] for bait in answer["baits"]] == ["ål", "鱼"]


@pytest.mark.parametrize(
    ("cells", "says"),
    [("fish,-1,24", "The catch is -1"), ("fish,1.5,24", "no whole number"), ("fish,1,0", "is 0 h")],
)
def test_an_impossible_row_is_refused_with_its_line(command: Any, cells: str, says: str) -> None:
    with pytest.raises(InvalidValue, match=says) as refused:
        command(f"bait,catch,soak_h\nliver,2,24\n\n{cells}\n", "--json")

    # A blank line is no row, but it is a line of the file.
    assert refused.value.where == "lifts.csv, row 2 (line 4)"
    assert set(refused.value.as_dict()) == {"error", "where", "what_to_do"}


def test_a_soak_that_is_too_long_is_told_how_long_it_may_be(command: Any) -> None:
    with pytest.raises(InvalidValue) as refused:
        command("bait,catch,soak_h\nfish,3,100001\n", "--json")

    assert "at most 100,000" in refused.value.what_to_do


@pytest.mark.parametrize(
    "text",
    [
        "",
        "bait,catch\nfish,2\n",
        "bait,catch,soak_h\n",
        "bait,catch,soak_h\nfish,2\n",
        "bait,catch,soak_h,Catch\nfish,2,24,3\n",
        "bait,catch,soak_h,soak h\nfish,2,24,24\n",
    ],
)
def test_what_is_no_table_of_lifts_is_refused(command: Any, text: str) -> None:
    with pytest.raises(InputProblem) as refused:
        command(text)

    assert refused.value.what_to_do


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    args = argparse.Namespace(lifts=str(tmp_path / "none.csv"), reference="", trip=None, json=True)

    with pytest.raises(TraplineError):
        compare.run(args)
