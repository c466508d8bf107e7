"""Files of check values that nobody has seen before: good ones run, bad rows say what is wrong with them and where."""

import csv
import io
import json

import numpy as np
import pytest

from shared.verification.cases import CasesError, CheckValue, read_cases
from shared.verification.registry import KINDS, Kind
from shared.verification.run import code_digest, for_json, plain, run, worst_relative
from shared.verification.words import share

INPUTS = {"t_hot_degF": 120, "t_cold_degF": 40, "t_set_degF": 100, "total_gpm": 2.0}
GOOD = {"id": "x-1", "kind": "mix", "inputs": json.dumps(INPUTS), "expected": json.dumps({"hot_gpm": 1.5})}


def written(*rows: dict[str, str], headings: list[str] | None = None, end: str = "\n") -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, headings or list(rows[0]), lineterminator=end)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def results(*rows: dict[str, str]):
    return run(read_cases(written(*rows), "unseen.csv"))


def test_an_unseen_case_of_a_known_kind_runs_without_the_optional_columns():
    (result,) = results(GOOD | {"tolerance_abs": "1e-9"})
    assert result.passed
    assert result.error == ""
    assert result.got["hot_gpm"] == pytest.approx(1.5)
    assert result.relative_error < 1e-9
    assert result.area == "heat"


def test_a_byte_order_mark_other_line_ends_blank_lines_and_headings_written_otherwise_are_no_matter():
    rows = GOOD | {"Tolerance Rel": "0.001"}
    content = b"\xef\xbb\xbf" + written(rows, end="\r\n").replace(b"id,kind", b" ID ,Kind") + b"\r\n,,,,\r\n"
    (case,) = read_cases(content, "unseen.csv")
    assert (case.id, case.relative, case.absolute, case.row) == ("x-1", 0.001, 0.0, 2)
    assert run([case])[0].passed


def test_a_blank_tolerance_is_none():
    (result,) = results(GOOD | {"expected": json.dumps({"hot_gpm": 1.5000001}), "tolerance_rel": ""})
    assert not result.passed
    assert "hot_gpm: got" in result.error


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"id": ""}, "column id: it is empty"),
        ({"kind": ""}, "column kind: it is empty"),
        ({"kind": "mixx"}, "column kind: no calculation is called 'mixx'. Did you mean mix"),
        ({"inputs": "{'a': 1}"}, "column inputs: this is no JSON"),
        ({"inputs": "[1]"}, "column inputs: this is JSON but no object"),
        ({"inputs": ""}, "column inputs: this is no JSON"),
        ({"inputs": '{"total_gpm": NaN}'}, "column inputs: NaN is no JSON number"),
        ({"inputs": "[" * 100_000}, "column inputs: this is nested too deep"),
        ({"expected": "{}"}, "column expected: nothing is expected"),
        ({"expected": '{"hot_gpm": 1e999}'}, "column expected: a number in it is too large"),
        ({"tolerance_rel": "1 %"}, "column tolerance_rel: '1 %' is no number"),
        ({"tolerance_rel": "inf"}, "column tolerance_rel: inf is no tolerance"),
        ({"tolerance_abs": "-1"}, "column tolerance_abs: -1 is no tolerance"),
        ({"tolerance_abs": "nan"}, "column tolerance_abs: nan is no tolerance"),
    ],
)
def test_a_bad_row_fails_by_name_and_stops_no_other(change, said):
    bad, good = results({**GOOD, "tolerance_rel": "0.001"} | change, GOOD | {"id": "x-2", "tolerance_rel": "0.001"})
    assert not bad.passed
    assert "unseen.csv, row 2, " + said in bad.error
    assert bad.id == ("unseen.csv row 2" if change.get("id") == "" else "x-1")
    assert good.passed


def test_cells_that_a_comma_tore_apart_are_named():
    content = b'id,kind,inputs,expected\nx-1,mix,{"a": 1, "b": 2},{"c": 3}\n'
    (result,) = run(read_cases(content, "torn.csv"))
    assert "it has 5 cells under 4 headings. Put JSON in double quotes" in result.error


def test_a_quote_left_open_is_named_and_nothing_is_passed_over():
    content = b'id,kind,inputs,expected\nx-1,mix,"{""a"": 1},{}\nx-2,mix,1,2\n'
    (result,) = run(read_cases(content, "open.csv"))
    assert not result.passed
    assert "A double quote seems to be left open" in result.error


def test_a_name_given_twice_is_named_with_its_first_row():
    first, second = results(GOOD | {"tolerance_rel": "0.001"}, GOOD | {"tolerance_rel": "0.001"})
    assert first.passed
    assert (
        second.error == "unseen.csv, row 3, column id: 'x-1' stands in row 2 already. Give each case a name of its own."
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "x.csv: it is empty"),
        (b"\n\n", "x.csv: it is empty"),
        (b"id,kind\na,mix\n", "x.csv, row 1: no column inputs and no column expected"),
        (b"id;kind;inputs;expected\n", "no column id"),
        (b"id,kind,inputs,expected\n", "headings and no case"),
        (b"\xff\xfe", "byte 1 is not UTF-8"),
        (b"id,kind,inputs,expected\nx,mix," + b"9" * 200_000 + b",{}\n", "x.csv, row 2: field larger"),
    ],
)
def test_a_file_that_is_none_is_refused_in_words(content, said):
    with pytest.raises(CasesError, match="x.csv") as refused:
        read_cases(content, "x.csv")
    assert said in str(refused.value)


@pytest.fixture
def adapted(monkeypatch):
    """Put an adapter of a test's own under the kind ``own``."""

    def put(adapter):
        monkeypatch.setitem(KINDS, "own", Kind("own", adapter, ()))
        return lambda expected: run([CheckValue("o", "own", {"list": [1]}, expected, relative=0.01)])[0]

    return put


@pytest.mark.parametrize(
    ("raised", "said"),
    [
        (ValueError("flow_m3_s must be above 0 m3/s"), "flow_m3_s must be above 0 m3/s"),
        (KeyError("total_gpm"), "the inputs lack 'total_gpm'"),
        (ZeroDivisionError("float division by zero"), "ZeroDivisionError: float division by zero"),
        (TypeError(), "TypeError"),
        (ValueError(), "ValueError"),
        (RecursionError("too deep"), "RecursionError: too deep"),
    ],
)
def test_whatever_a_formula_raises_is_the_result_of_its_case(adapted, raised, said):
    def adapter(case):
        raise raised

    result = adapted(adapter)({"a": 1})
    assert (result.passed, result.error, result.got) == (False, said, None)


def test_a_case_that_is_not_a_number_or_comes_back_as_none_never_passes(adapted):
    for value in (float("nan"), float("inf"), None, np.float64("nan")):
        result = adapted(lambda case, value=value: {"a": value})({"a": 1.0})
        assert not result.passed
        json.dumps(for_json(result.got), allow_nan=False)


def test_an_adapter_cannot_change_the_case(adapted):
    ask = adapted(lambda case: {"a": float(len(case["list"])), "b": case["list"].append(2)})
    assert ask({"a": 1.0}).passed
    assert ask({"a": 1.0}).passed


def test_scalars_and_arrays_of_the_library_come_back_as_plain_numbers(adapted):
    def adapter(case):
        return {"a": np.float64(1.5), "b": np.array([1.0, 2.0]), "c": np.bool_(True), "d": (np.int64(3),)}

    result = adapted(adapter)({"a": 1.5, "b": [1.0, 2.0], "c": True, "d": [3]})
    assert result.passed
    assert json.loads(json.dumps(result.got)) == result.got


def test_the_worst_relative_error_is_told():
    assert worst_relative({"a": 1.1, "b": [2.0, 3.0]}, {"a": 1.0, "b": [2.0, 3.03]}) == pytest.approx(0.1)
    assert worst_relative({"a": "x"}, {"a": "x"}) is None
    assert worst_relative({"a": 0.0}, {"a": 0}) == 0
    assert worst_relative({"a": 1e-9}, {"a": 0}) == float("inf")
    assert share(float("inf")) == share("inf") == "no share of 0"
    assert share(None) == "same"
    assert plain({1: (np.float32(0.5),)}) == {"1": [0.5]}


def test_the_digest_of_what_is_run_is_steady():
    assert code_digest() == code_digest()
    assert len(code_digest()) == 64
