"""Every bad trial file gets exactly these problems, with these places and words.

The words stand in trial_messages.json; they were read one by one when written there.
"""

import json
from pathlib import Path

import pytest
from support_trials import CASES, GOOD

from wickstats.core.errors import TrialError
from wickstats.design.read import parse_trial, read_trial

EXPECTED = json.loads(
    (Path(__file__).parent / "trial_messages.json").read_text(encoding="utf-8")
)


def problems_of(text: str | bytes, folder: Path) -> list[str]:
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(TrialError) as caught:
        parse_trial(data, file="trial.yaml", folder=folder)
    return [str(problem) for problem in caught.value.problems]


def test_good_file_is_good(tmp_path: Path) -> None:
    trial = parse_trial(GOOD.encode(), file="trial.yaml", folder=tmp_path)
    assert trial.trial.id == "quarry-oaks"


def test_table_is_complete() -> None:
    assert set(EXPECTED) == set(CASES)
    assert len(CASES) >= 90


@pytest.mark.parametrize("name", CASES)
def test_exact_words(name: str, tmp_path: Path) -> None:
    old, new = CASES[name]
    assert GOOD.count(old) >= 1
    assert problems_of(GOOD.replace(old, new, 1), tmp_path) == EXPECTED[name]


def test_all_problems_at_once(tmp_path: Path) -> None:
    names = ("unknown key", "date out of season", "unknown factor", "decimal comma")
    text = GOOD
    for name in names:
        text = text.replace(*CASES[name], 1)
    assert problems_of(text, tmp_path) == [words for n in names for words in EXPECTED[n]]


def test_too_deep_stops_in_the_events(tmp_path: Path) -> None:
    lines = "\n".join("  " * i + f"a{i}:" for i in range(30))
    (found,) = problems_of(lines, tmp_path)
    assert found.startswith("trial.yaml, line 21, column 41: too deep: found more than 20")
    (found,) = problems_of("a: " + "[" * 30 + "]" * 30, tmp_path)
    assert found.startswith("trial.yaml, line 1, column 23: too deep")
    (found,) = problems_of("a: " + "[" * 100_000, tmp_path)
    assert found.startswith("trial.yaml, line 1, column 104: too deep")


def test_too_large(tmp_path: Path) -> None:
    (found,) = problems_of(b"#" * 1_000_001, tmp_path)
    assert "file too large: found 1000001 bytes; expected at most 1000000" in found


def test_aliases_do_not_explode(tmp_path: Path) -> None:
    text = "a: &a [x, x]\n" + "".join(
        f"{chr(98 + i)}: &{chr(98 + i)} [*{chr(97 + i)}, *{chr(97 + i)}]\n" for i in range(20)
    )
    assert any(": alias: " in found for found in problems_of(text, tmp_path))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty file: found a file without content"),
        (b"# only a remark\n", "empty file"),
        (b"trial:\n  id: caf\xe9\n", "line 2, column 10: not UTF-8: found the byte 0xE9"),
        ("format: 1".encode("utf-16"), "not UTF-8"),
        (b"just text", "wrong type"),
        (b"- 1\n- 2\n", "wrong type"),
    ],
)
def test_not_a_trial(data: bytes, words: str, tmp_path: Path) -> None:
    assert words in problems_of(data, tmp_path)[0]


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(TrialError) as caught:
        read_trial(tmp_path / "none.yaml")
    assert caught.value.problems[0].code == "missing file"
    with pytest.raises(TrialError):
        read_trial(tmp_path)


def test_link_out_of_the_folder(tmp_path: Path) -> None:
    inner = tmp_path / "trial"
    inner.mkdir()
    (tmp_path / "secret.csv").write_text("plot\n")
    (inner / "visits.csv").symlink_to(tmp_path / "secret.csv")
    (found,) = problems_of(GOOD, inner)
    assert "path not allowed" in found
