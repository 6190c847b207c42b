"""A trial file written again says the same: every demo and design, and names full of signs."""

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from support_trials import GOOD

import wickstats as ws
from wickstats.design.read import parse_trial, read_trial
from wickstats.design.trial import Simulated, Trial
from wickstats.simulate.trial_text import trial_text

ROOT = Path(__file__).parents[3]
FILES = sorted(
    [
        *(ROOT / "designs").glob("*.yaml"),
        *(ROOT / "designs").glob("*/*/trial.yaml"),
        *(ROOT / "wickstats" / "demo").glob("*/trial.yaml"),
    ]
)
MARK = Simulated(seed=2**53, tables="0f" * 32)


def again(trial: Trial) -> Trial:
    text = trial_text(trial, MARK, dict(trial.records), keep_seed=True)
    return parse_trial(text, file=trial.file, folder=Path(trial.folder))


def same(one: Trial, other: Trial) -> None:
    marked = other.trial.simulated
    assert marked == MARK
    plain = [
        t.model_dump(exclude={"source": True, "trial": {"simulated"}}) for t in (one, other)
    ]
    assert plain[0] == plain[1]


@pytest.mark.parametrize("path", FILES, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_trials_come_back(path: Path) -> None:
    trial = read_trial(path)
    same(trial, again(trial))


def test_a_full_trial_comes_back() -> None:
    trial = parse_trial(GOOD.encode(), file="trial.yaml", folder=Path("nowhere"))
    same(trial, again(trial))
    bare = trial_text(trial, MARK, dict(trial.records), keep_seed=False)
    assert parse_trial(bare, file="t", folder=Path("nowhere")).design.seed is None


NAMES = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S"), include_characters=" "),
    min_size=1,
    max_size=12,
).filter(lambda s: s == s.strip() and " x " not in s)


@settings(max_examples=60, deadline=None)
@given(names=st.lists(NAMES, min_size=2, max_size=3, unique_by=str.casefold), title=NAMES)
def test_any_names_come_back(names: list[str], title: str) -> None:
    values = {
        "format": 1,
        "trial": {"id": "signs", "title": title},
        "factors": {"way": [{"name": name, "detail": title} for name in names]},
        "design": {"type": "completely randomized", "layout": "l.csv", "replicates": 2},
        "records": {"measurements": {"file": "m.csv"}},
        "responses": [{"name": title, "kind": "measurement", "column": "g"}],
        "power": {
            "assume": {title: {"mean": dict.fromkeys(names, 1e-7), "plot_sd": 1234567.875}}
        },
    }
    data = yaml.safe_dump(values, allow_unicode=True, sort_keys=False).encode()
    try:
        trial = parse_trial(data, file="t.yaml", folder=Path("nowhere"))
    except ws.TrialError:
        return  # a name that no trial may have
    same(trial, again(trial))
