"""Open data sets, as trial files, through the command line: published numbers come out.

Two layers: every number that R gives for the same tables (the script and versions stand
beside the values in tests/reference), and the few that are printed in the literature.
"""

from pathlib import Path

import pytest
import yaml
from open import make_tables
from reference.reader import check
from support import ROOT, analyze_by_command, find, numbers, response

OPEN = ROOT / "designs" / "open"
KEPT = sorted(set(make_tables.MAKERS) - set(make_tables.NOT_KEPT))

RESPONSES = {
    "oats": "yield",
    "alfalfa": "yield",
    "plant-growth": "weight",
    "warp-breaks": "breaks",
    "kiwi-shade": "yield",
    "orchard-sprays": "decrease",
}


def folder_of(name: str, tmp_path: Path) -> Path:
    """Return the kept folder, or one made now from the package that carries the data."""
    if name in make_tables.NOT_KEPT:
        return make_tables.lay_out(name, tmp_path / name).parent
    return OPEN / name


@pytest.mark.parametrize("name", sorted(RESPONSES))
def test_every_number_of_the_reference_program_comes_out(name: str, tmp_path: Path) -> None:
    tree = analyze_by_command(folder_of(name, tmp_path), tmp_path)
    produced = numbers(response(tree, RESPONSES[name]))
    check(f"open-{name}", produced)
    if name == "oats":
        _oats(produced)
    if name == "kiwi-shade":
        _kiwi(produced)
    if name == "plant-growth":
        _plant_growth(produced)


def _oats(got: dict[str, float]) -> None:
    # Yates (1935), the data as shipped with R's MASS; restricted likelihood by lme4:
    # SD of blocks 14.645, whole plots 10.299, residual 13.307
    assert got["test variety F"] == pytest.approx(1.4853, abs=5e-5)
    assert got["test nitrogen F"] == pytest.approx(37.686, abs=5e-4)
    assert got["test variety x nitrogen F"] == pytest.approx(0.3028, abs=5e-5)
    assert got["component block"] ** 0.5 == pytest.approx(14.645, abs=5e-4)
    assert got["component whole plot"] ** 0.5 == pytest.approx(10.299, abs=5e-4)
    assert got["component residual"] ** 0.5 == pytest.approx(13.307, abs=5e-4)
    # Kenward-Roger in a balanced split-plot is the classical test
    assert got["mixed variety df"] == pytest.approx(10, rel=1e-3)


def _kiwi(got: dict[str, float]) -> None:
    # Maindonald & Braun, Data Analysis and Graphics Using R: F 22.21 on 3 and 6 df, p 0.0012,
    # vine-to-vine mean square 12.18 (from memory; the data as shipped with R's DAAG)
    assert got["test treatment F"] == pytest.approx(22.21, abs=5e-3)
    assert got["test treatment df"] == 6
    assert got["test treatment p"] == pytest.approx(0.0012, abs=5e-5)
    assert got["component residual"] == pytest.approx(12.18, abs=5e-3)
    assert got["mixed treatment F"] == pytest.approx(22.21, abs=5e-3)


def _plant_growth(got: dict[str, float]) -> None:
    # Dobson (1983), the data as shipped with R; Tukey intervals computed by R
    assert got["test treatment F"] == pytest.approx(4.846, abs=5e-4)
    assert got["test treatment p"] == pytest.approx(0.01591, abs=5e-6)
    name = "treatment tukey: trt2 against trt1"
    assert got[f"{name} estimate"] == pytest.approx(0.865, abs=5e-4)
    assert got[f"{name} low adjusted"] == pytest.approx(0.1738, abs=5e-5)
    assert got[f"{name} high adjusted"] == pytest.approx(1.5562, abs=5e-5)
    assert got[f"{name} p adjusted"] == pytest.approx(0.0120, abs=5e-5)


# Kaplan-Meier shares by week: Freireich et al. (1963), via Gehan (1965), the data as shipped
# with R's MASS; computed by R's survival
SIX_MP = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
CONTROL = {1: 0.9048, 2: 0.8095, 3: 0.7619, 4: 0.6667, 5: 0.5714, 8: 0.3810, 11: 0.2857}
CONTROL |= {12: 0.1905, 15: 0.1429, 17: 0.0952, 22: 0.0476, 23: 0.0}


def test_remission_curves_are_the_published_ones(tmp_path: Path) -> None:
    item = response(analyze_by_command(OPEN / "remission", tmp_path), "remission")
    for group, published in (("6-MP", SIX_MP), ("control", CONTROL)):
        points = {p["time_low"]: p["share"] for p in item["curves"] if p["group"] == group}
        assert {week * 7.0 for week in published} <= set(points)
        for week, share in published.items():
            assert points[week * 7.0] == pytest.approx(share, abs=5.1e-5)
    # 18 of 21 and 12 of 21 in remission at week 6: counted from the table
    shares = [m for m in item["means"] if m["estimand"] == "share alive"]
    assert find(shares, treatment="6-MP")["estimate"] == pytest.approx(18 / 21, rel=1e-12)
    assert find(shares, treatment="control")["estimate"] == pytest.approx(12 / 21, rel=1e-12)
    row = find([c for c in item["comparisons"] if c["estimand"] == "share alive"])
    assert row["absolute"]["estimate"] == pytest.approx(100 * 6 / 21, rel=1e-9)
    assert row["verdict"] == "better"


def test_remission_log_rank_agrees_with_the_published_test(tmp_path: Path) -> None:
    # Log-rank chi-square 16.793 on 1 df, p 4.17e-5 (computed by R's survival). One patient a
    # unit: the F of log-rank scores with n - 2 df says X2/(n - 1) as its share of squares,
    # X2' = (n - 1) F/(F + n - 2), the permutation form of the same test (Peto & Peto, 1972),
    # which differs from the printed one by its variance only.
    item = response(analyze_by_command(OPEN / "remission", tmp_path), "remission")
    row = find(item["tests"], term="treatment, log-rank score")
    chi2 = 41 * row["value"] / (row["value"] + row["df_den"])
    assert row["df_den"] == 40
    assert chi2 == pytest.approx(16.793, rel=0.1)
    assert row["p"] < 1e-4


@pytest.mark.parametrize(
    ("name", "of"), [("veteran", "survival"), ("litters", "without tumor")]
)
def test_open_lives_give_every_number_of_the_reference_program(
    name: str, of: str, tmp_path: Path
) -> None:
    # curves, shares, restricted means, log-rank scores and death rates by R
    item = response(analyze_by_command(OPEN / name, tmp_path), of)
    out = {f"curve {p['group']} {p['time_low']:g}": p["share"] for p in item["curves"]}
    words = {"share alive": "share", "restricted mean survival time": "restricted mean"}
    for row in item["means"]:
        out[f"{words[row['estimand']]} {row['treatment']}"] = row["estimate"]
    test = find(item["tests"], term="treatment, log-rank score")
    out |= {"score F": test["value"], "score df": test["df_den"], "score p": test["p"]}
    (rates,) = [row for row in item["sensitivity"] if row["measure"] == "hazard ratio"]
    out |= {f"death rates {k}": rates[v] for k, v in (("ratio", "estimate"), ("se", "se"))}
    check(f"open-{name}", out | {"death rates df": rates["df"]})
    # fifty litters of three hold few deaths each: told, and no p
    few = "descriptive: fewer than 8 deaths a block" in rates["name"]
    assert few == (name == "litters") == (rates["p"] is None)


def test_intervals_of_every_kind_go_through_a_trial_file(tmp_path: Path) -> None:
    # Beadle et al. (1984), KMsurv bcdeter: masses to forty digits, make/retraction_masses.py
    item = response(
        analyze_by_command(folder_of("retraction", tmp_path), tmp_path), "without retraction"
    )
    arms = {"radiotherapy": 1, "and chemotherapy": 2}
    out, shares = {}, {}
    for p in item["curves"]:
        arm = arms[p["group"]]
        # the share holds from the end of one region to the begin of the next
        before = shares.get(arm, (1.0, 0.0))
        if p["time_low"] > 0:
            name = f"retraction {arm} ({before[1] / 30:g}, {p['time_low'] / 30:g}] mass"
            out[name] = before[0] - p["share"]
        shares[arm] = (p["share"], p["time_high"])
    check("retraction-masses", out)
    kinds = {r["observed"]: r["by_treatment"] for r in item["plant_lives"]["histories"]}
    # counted from the list: arm 1 and arm 2
    assert {k: [v[arm] for arm in arms] for k, v in kinds.items()} == {
        "from the right": [25, 12],
        "between two visits": [18, 33],
        "from the left": [3, 2],
        "exactly": [0, 2],
    }


@pytest.mark.parametrize("name", KEPT)
def test_kept_tables_are_what_the_package_gives(name: str, tmp_path: Path) -> None:
    make_tables.write_tables(name, tmp_path)
    for part in tmp_path.glob("*.csv"):
        assert part.read_bytes() == (OPEN / name / part.name).read_bytes()


@pytest.mark.parametrize("name", sorted(make_tables.MAKERS))
def test_each_set_has_a_card_with_source_and_licence(name: str) -> None:
    card = yaml.safe_load((OPEN / name / "card.yaml").read_text(encoding="utf-8"))
    assert set(card) == {"what", "source", "citation", "licence", "columns", "changes"}
    kept = list((OPEN / name).glob("*.csv"))
    assert bool(kept) == (name not in make_tables.NOT_KEPT)
    if kept:
        assert "GPL" in card["licence"]
