"""Ways of tampering with a report's folder, and where each must be found."""

import io
import re
import zipfile
from collections.abc import Callable
from typing import Any

from wickstats.core.codec import dump_json, parse_json

Files = dict[str, bytes]
VISITS, LAYOUT = "inputs/visits.csv", "inputs/layout.csv"
RECORD, TRIAL = "inputs/layout.record.json", "inputs/trial.yaml"
WATER, EVENTS = "inputs/water.csv", "inputs/events.csv"


def lines(files: Files, path: str, change: Callable[[list[str]], None]) -> None:
    held = files[path].decode("utf-8").split("\n")
    change(held)
    files[path] = "\n".join(held).encode("utf-8")


def text(files: Files, path: str, old: str, new: str) -> None:
    before = files[path].decode("utf-8")
    assert old in before, (path, old)
    files[path] = before.replace(old, new, 1).encode("utf-8")


def results(files: Files, change: Callable[[dict[str, Any]], None]) -> None:
    plain = parse_json(files["results.json"])
    change(plain)
    files["results.json"] = dump_json(plain)


def death_moved(files: Files) -> None:
    def change(held: list[str]) -> None:
        for k, line in enumerate(held):
            own = line.split(",")[1:3]
            before = [j for j in range(k) if held[j].split(",")[1:3] == own]
            if ",dead," in line and before and ",alive," in held[before[-1]]:
                held[before[-1]] = held[before[-1]].replace(",alive,", ",dead,")
                return
        raise AssertionError("no death after a visit")

    lines(files, VISITS, change)


def row_deleted(files: Files) -> None:
    lines(files, VISITS, lambda held: held.pop(40))


def row_doubled(files: Files) -> None:
    lines(files, VISITS, lambda held: held.insert(40, held[40]))


def size_changed(files: Files) -> None:
    """A size 1 % larger, in the workbook's own XML."""
    out = io.BytesIO()
    packed = io.BytesIO(files["inputs/sizes.xlsx"])
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name.endswith("sheet1.xml"):
                data = re.sub(
                    rb'(<c r="[A-Z]+60"[^>]*><v>)(\d{2,3})(</v>)',
                    lambda m: m[1] + f"{float(m[2]) * 1.01:g}".encode() + m[3],
                    data,
                )
            new.writestr(name, data)
    files["inputs/sizes.xlsx"] = out.getvalue()


def cell_raised(files: Files, path: str, sheet: str, cell: str, times: float) -> float:
    """Multiply one number of a workbook; return what it was."""
    out = io.BytesIO()
    was: list[float] = []
    with zipfile.ZipFile(io.BytesIO(files[path])) as old, zipfile.ZipFile(out, "w") as new:
        listed = re.findall(rb'<sheet [^>]*name="([^"]+)"', old.read("xl/workbook.xml"))
        part = f"xl/worksheets/sheet{listed.index(sheet.encode()) + 1}.xml"
        for name in old.namelist():
            data = old.read(name)
            if name == part:
                pattern = rf'(<c r="{cell}"[^>]*><v>)([^<]+)(</v>)'.encode()
                was.extend(float(m[1]) for m in re.findall(pattern, data))
                data = re.sub(
                    pattern,
                    lambda m: m[1] + f"{float(m[2]) * times:g}".encode() + m[3],
                    data,
                )
            new.writestr(name, data)
    files[path] = out.getvalue()
    (value,) = was
    return value


def labels_swapped(files: Files) -> None:
    def change(held: list[str]) -> None:
        one, two = held[1].split(","), held[3].split(",")
        held[1], held[3] = ",".join([two[0], *one[1:]]), ",".join([one[0], *two[1:]])

    lines(files, LAYOUT, change)


def layout_edited(files: Files) -> None:
    text(files, LAYOUT, "capillary wick", "gravity wick")


def record_edited(files: Files) -> None:
    text(files, RECORD, '"claimed_on": "2025', '"claimed_on": "2024')


def seed_replaced(files: Files) -> None:
    text(files, RECORD, "20250317", "20250318")


def exclusion_hidden(files: Files) -> None:
    results(files, lambda plain: plain["exclusions"].pop())


def query_removed(files: Files) -> None:
    results(files, lambda plain: plain["queries"].pop())


def plan_changed(files: Files) -> None:
    text(files, TRIAL, "confidence: 0.95", "confidence: 0.90")


def margin_widened(files: Files) -> None:
    text(files, TRIAL, "survival: {difference: 0.10}", "survival: {difference: 0.30}")


def primary_swapped(files: Files) -> None:
    text(files, TRIAL, "primary: survival", "primary: height")
    text(files, TRIAL, "secondary: [height]", "secondary: [survival]")


def _first(plain: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = plain["responses"][0]["comparisons"][0]
    return found


def estimate_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(estimate=0.42))


def p_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(p=0.049))


def sentence_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(sentence="The wick always wins."))


def verdict_dropped(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(verdict=None))


def _one(files: Files, start: str, end: str) -> str:
    return next(path for path in files if path.startswith(start) and path.endswith(end))


def figure_edited(files: Files) -> None:
    path = _one(files, "figures/survival", ".svg")
    files[path] = re.sub(rb"(\d)\.(\d)", rb"\2.\1", files[path], count=1)


def figure_data_edited(files: Files) -> None:
    """The table behind the curves."""
    text(files, "tables/survival-curves.csv", "1.0", "0.9")


def table_edited(files: Files) -> None:
    text(files, "tables/survival-comparisons.csv", "0.", "1.")


def page_edited(files: Files) -> None:
    text(files, "report.html", "hand watering", "no watering")


def version_edited(files: Files) -> None:
    results(files, lambda plain: plain.update(wickstats="9.9.9"))


def results_removed(files: Files) -> None:
    del files["results.json"]


def table_removed(files: Files) -> None:
    del files["tables/queries.csv"]


def page_removed(files: Files) -> None:
    del files["report.html"]


def trial_removed(files: Files) -> None:
    del files[TRIAL]


def page_label_edited(files: Files) -> None:
    """A treatment's name at its line, in a picture on the page."""
    text(files, "report.html", ">capillary wick</text>", ">gravity wick</text>")


def page_alternative_edited(files: Files) -> None:
    """A number in the words that stand for a picture."""
    text(files, "report.html", "hand watering 66, capillary wick 98", "hand watering 96, x 98")


def figure_alternative_edited(files: Files) -> None:
    text(files, "figures/survival-curves.svg", "capillary wick 98", "capillary wick 99")


def link_edited(files: Files) -> None:
    """The page leads to the numbers of another picture."""
    old, new = "tables/survival-curves.csv", "tables/height-units.csv"
    text(files, "report.html", f'href="{old}"', f'href="{new}"')


def file_added(files: Files) -> None:
    files["tables/better.csv"] = b"a,b\n1,2\n"


def nonsense(files: Files) -> None:
    files["results.json"] = b'{"results_format": 1, "results_format": 1}'


# kinds that somebody else may think of: swaps, units, decimals, notes, keys, descriptions


def arms_swapped(files: Files) -> None:
    """Two treatments change names in the trial file, and with them their details."""
    text(files, TRIAL, "{name: capillary wick,", "{name: held,")
    text(files, TRIAL, "{name: gravity wick,", "{name: capillary wick,")
    text(files, TRIAL, "{name: held,", "{name: gravity wick,")


def dates_turned(files: Files) -> None:
    text(files, TRIAL, "dates: 31/12/2025", "dates: 12/31/2025")


def can_enlarged(files: Files) -> None:
    text(files, TRIAL, "{head: cans, times: 9}", "{head: cans, times: 10}")


def decimal_moved(files: Files) -> None:
    text(files, WATER, "EN-A;2,2;", "EN-A;22;")


def water_raised(files: Files) -> None:
    """A mass of water 1 % larger."""
    text(files, WATER, "KA-G;1,7;", "KA-G;1,717;")


def plant_reassigned(files: Files) -> None:
    text(files, "inputs/plants.csv", "EN-A,1,", "KA-G,11,")


def note_deleted(files: Files) -> None:
    text(files, EVENTS, '"bank gave way, plot gone"', "")


def event_retold(files: Files) -> None:
    text(files, EVENTS, "flood damage", "theft")


def cause_changed(files: Files) -> None:
    text(files, VISITS, ",dead,,drought,", ",dead,,browsing,")


def observer_changed(files: Files) -> None:
    text(files, VISITS, "B. Example", "C. Example")


def figure_replaced(files: Files) -> None:
    one, other = _one(files, "figures/survival", ".svg"), _one(files, "figures/height", ".svg")
    files[one] = files[other]


def figure_label_edited(files: Files) -> None:
    path = _one(files, "figures/survival", ".svg")
    text(files, path, "hand watering", "hand wetting")


def key_deleted(files: Files) -> None:
    results(files, lambda plain: _first(plain).pop("p_adjusted"))


def response_renamed(files: Files) -> None:
    results(files, lambda plain: plain["responses"][0].update(name="vigor"))


def agreement_claimed(files: Files) -> None:
    """The second engine is made to say what the report shall say."""
    results(files, lambda plain: plain["second_engine"][0].update(ours=0.5, theirs=0.5))


def query_softened(files: Files) -> None:
    results(files, lambda plain: plain["queries"][0].update(found="nothing much"))


def lost_plot_hidden(files: Files) -> None:
    results(files, lambda plain: plain["accounting"]["lost"].clear())


def simulated_denied(files: Files) -> None:
    results(files, lambda plain: plain.update(simulated=True))


def input_added(files: Files) -> None:
    files["inputs/more.csv"] = b"a,b\n1,2\n"


def crate_redated(files: Files) -> None:
    text(files, "ro-crate-metadata.json", '"value": "2025-03-17"', '"value": "2024-03-17"')


def crate_removed(files: Files) -> None:
    del files["ro-crate-metadata.json"]


def package_unit_changed(files: Files) -> None:
    text(files, "datapackage.json", "in mm", "in cm")


def package_hash_changed(files: Files) -> None:
    held = parse_json(files["datapackage.json"])
    held["resources"][0]["hash"] = "sha256:" + "0" * 64
    files["datapackage.json"] = dump_json(held)


KINDS: dict[Callable[[Files], None], str] = {
    arms_swapped: TRIAL,
    dates_turned: TRIAL,
    can_enlarged: TRIAL,
    decimal_moved: WATER,
    water_raised: WATER,
    plant_reassigned: "inputs/plants.csv",
    note_deleted: EVENTS,
    event_retold: EVENTS,
    cause_changed: VISITS,
    observer_changed: VISITS,
    figure_replaced: "figures/survival",
    figure_label_edited: "figures/survival",
    key_deleted: "results.json",
    response_renamed: "responses[0].name",
    agreement_claimed: "second_engine[0].",
    query_softened: "queries[0].found",
    lost_plot_hidden: "accounting.lost[0]",
    simulated_denied: "simulated",
    input_added: "inputs/more.csv",
    crate_redated: "ro-crate-metadata.json",
    crate_removed: "ro-crate-metadata.json",
    package_unit_changed: "datapackage.json",
    package_hash_changed: "datapackage.json",
    death_moved: VISITS,
    row_deleted: VISITS,
    row_doubled: VISITS,
    size_changed: "inputs/sizes.xlsx",
    labels_swapped: LAYOUT,
    layout_edited: LAYOUT,
    record_edited: RECORD,
    seed_replaced: RECORD,
    exclusion_hidden: "exclusions[1]",
    query_removed: "queries[",
    plan_changed: TRIAL,
    margin_widened: TRIAL,
    primary_swapped: TRIAL,
    estimate_edited: "responses[0].comparisons[0].estimate",
    p_edited: "responses[0].comparisons[0].p",
    sentence_edited: "responses[0].comparisons[0].sentence",
    verdict_dropped: "responses[0].comparisons[0].verdict",
    figure_edited: "figures/survival",
    figure_data_edited: "tables/survival-curves.csv",
    table_edited: "tables/survival-comparisons.csv",
    page_edited: "report.html",
    version_edited: "wickstats",
    results_removed: "results.json",
    table_removed: "tables/queries.csv",
    page_removed: "report.html",
    page_label_edited: "report.html",
    page_alternative_edited: "report.html",
    figure_alternative_edited: "figures/survival-curves.svg",
    link_edited: "report.html",
    trial_removed: TRIAL,
    file_added: "tables/better.csv",
    nonsense: "results.json",
}
ROWS = {death_moved, row_deleted, row_doubled, size_changed, labels_swapped, layout_edited}
ROWS |= {decimal_moved, water_raised, plant_reassigned, note_deleted, event_retold}
# where in the file, or of what, is told too, with the manifest made anew
TOLD: dict[Callable[[Files], None], str] = {
    estimate_edited: "capillary wick against hand watering",
    figure_data_edited: "row 2, column share: recorded '0.9', recomputed '1.0'",
    table_edited: "row 2, column ",
    page_edited: "weekly no watering",
    figure_edited: "drawn otherwise",
    figure_label_edited: "hand wetting",
    page_label_edited: "picture 1: recorded 'gravity wick', recomputed 'capillary wick'",
    page_alternative_edited: "hand watering 96, x 98",
    figure_alternative_edited: "capillary wick 99",
    link_edited: "recorded 'href: tables/height-units.csv'",
    key_deleted: "responses[0].comparisons[0].p_adjusted: missing",
    crate_redated: "#DM-14.value: recorded '2024-03-17', recomputed '2025-03-17'",
    package_unit_changed: "resources.measurements.schema.fields.height, mm.description",
    package_hash_changed: "resources.layout.hash",
}
