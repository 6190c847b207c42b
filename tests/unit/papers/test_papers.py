"""Papers of the demo trials: order, columns, lists, labels, a round trip, nothing told."""

import re
import shutil
import zipfile
from datetime import date, timedelta
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import yaml
from support_page import parse_page

import wickstats as ws
from wickstats.cli.app import run
from wickstats.cli.commands.check import examine
from wickstats.core.errors import LayoutError, ReportError
from wickstats.crew.ground import ground_of
from wickstats.crew.tables import sheets_of
from wickstats.crew.workbooks import record_lines
from wickstats.crew.write import KEY_CSV, paper_files, write_papers
from wickstats.demo.trials import copy_demo
from wickstats.layout.plant_codes import plant_code
from wickstats.layout.record import read_record
from wickstats.pages.symbols import QUIET, symbol, symbol_svg

OPEN = Path(__file__).resolve().parents[3] / "designs" / "open"
DEMOS = ("quarry-oaks", "garden-peppers", "bench-cords")


@pytest.fixture
def demos(tmp_path: Path) -> dict[str, Path]:
    """Folders of the demo trials."""
    return dict(zip(DEMOS, copy_demo(tmp_path / "demo"), strict=True))


def files_of(folder: Path, **more: Any) -> tuple[Any, Any, dict[str, bytes]]:
    trial = ws.read_trial(folder / "trial.yaml")
    layout = ws.read_layout(trial)
    return trial, layout, paper_files(trial, layout, **more)[0]


def edit(folder: Path, old: str, new: str) -> None:
    path = folder / "trial.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize("name", DEMOS)
def test_the_same_trial_gives_the_same_bytes(demos: dict[str, Path], name: str) -> None:
    assert files_of(demos[name])[2] == files_of(demos[name])[2]


@pytest.mark.parametrize("name", DEMOS)
def test_the_walk_holds_every_plot_once_block_by_block(
    demos: dict[str, Path], name: str
) -> None:
    layout = ws.read_layout(ws.read_trial(demos[name] / "trial.yaml"))
    ground = ground_of(layout)
    assert sorted(p.plot for p in ground.plots) == sorted(p.plot for p in layout.plots)
    blocks = [p.block for p in ground.plots]
    assert sum(a != b for a, b in pairwise(blocks)) == len(set(blocks)) - 1
    steps = [(s.row, s.column) for s in ground.walk]
    far = [abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairwise(steps)]
    assert set(far) == {1}  # rows to and fro: every plot lies beside the one before
    assert ground.known


def test_without_places_every_block_is_a_strip() -> None:
    from wickstats.layout.plots import Layout, Plot

    plots = tuple(Plot(f"{b}{k}", {"w": "x"}, block=b) for b in "ab" for k in range(12))
    ground = ground_of(Layout("randomized complete block", ("w",), plots, "elsewhere"))
    assert not ground.known
    assert [s.row for s in ground.walk] == [1] * 10 + [2] * 2 + [3] * 10 + [4] * 2
    assert sorted(s.plot.plot for s in ground.walk) == sorted(p.plot for p in plots)


def test_sheets_hold_every_plant_in_walking_order(demos: dict[str, Path]) -> None:
    trial, layout, files = files_of(demos["quarry-oaks"])
    page = parse_page(files["sheet-visits.html"])
    (table,) = [t for t in page.all("table") if t.attributes.get("class") == "form"]
    told = [
        [c.text for c in row.all("td")][:2]
        for row in table.all("tr")
        if len(row.all("td")) > 2 and row.all("td")[0].text.strip()
    ]
    walk = [p.plot for p in ground_of(layout).plots]
    assert told == [[plot, str(n)] for plot in walk for n in range(1, 9)]
    heads = [h.text for h in table.all("th") if h.attributes.get("scope") == "col"]
    assert heads == ["plot", "plant", "status", "condition", "cause", "observer", "note"]
    assert trial.trial.id in page.text


VALUES: dict[str, Any] = {
    "status": "alive",
    "observer": "B",
    "height, mm": 210,
    "cans": 1,
    "applied_l": 9,
    "level_before_cm": 2,
    "level_after_cm": 12,
    "level_before_l": 2,
    "level_after_l": 12,
    "mass_kg": 1.5,
    "marketable_kg": 1.2,
    "count": 7,
    "start_cm": 20.5,
    "height_mm": 30,
    "volume_ml": 4,
    "what": "leak",
    "temperature_c": 18,
    "tmin_c": 9,
    "tmax_c": 21,
    "rh_min": 40,
    "rh_max": 85,
    "wind_m_s": 1,
    "sun_h": 6,
    "rain_mm": 0,
}


def fill(path: Path, layout: Any) -> int:
    """Type into every prepared row and one spare row of events; rows that were filled."""
    from openpyxl import load_workbook

    book, rows = load_workbook(path), 0
    for sheet in book.worksheets:
        if sheet.title in ("lists", "how to fill in"):
            continue
        heads = [c.value for c in sheet[1]]
        prepared = [r for r in range(2, sheet.max_row + 1) if sheet.cell(r, 1).value] or [2]
        if "date" in heads:
            prepared = [
                r for r in range(2, sheet.max_row + 1) if any(c.value for c in sheet[r])
            ] or [2]
        seen: dict[Any, int] = {}
        for r in prepared:
            ids = tuple(sheet.cell(r, k + 1).value for k, h in enumerate(heads))
            seen[ids] = turn = seen.get(ids, 0) + 1
            day = date(2025, 5, 20) + timedelta(days=2 * turn)
            for k, head in enumerate(heads, start=1):
                cell = sheet.cell(r, k)
                value = VALUES.get(str(head))
                if sheet.title == "picks" and head == "status":
                    value = "picked"
                if head in ("date", "planted_on"):
                    value = day if head == "date" else date(2025, 3, 17)
                if head == "minutes":
                    value = 5 * turn
                if head == "plot" and sheet.title == "events":
                    value = layout.plots[0].plot
                if value is not None and cell.value is None:
                    cell.value = value
            rows += 1
    book.save(path)
    return rows


@pytest.mark.parametrize(
    ("name", "blind"), [*((name, False) for name in DEMOS), ("garden-peppers", True)]
)
def test_what_is_typed_in_reads_back_without_a_problem(
    demos: dict[str, Path], name: str, tmp_path: Path, *, blind: bool
) -> None:
    folder = demos[name]
    if blind:
        edit(folder, "plan:\n", "plan:\n  blind: true\n")
    trial, layout, files = files_of(folder, visits=2)
    home = tmp_path / "season"
    home.mkdir()
    for kept in ("layout.csv", "layout.record.json"):
        shutil.copy(folder / kept, home / kept)
    filled = 0
    for path, data in files.items():
        if path.endswith(".xlsx"):
            (home / Path(path).name).write_bytes(data)
            filled += fill(home / Path(path).name, layout)
    text = (folder / "trial.yaml").read_text(encoding="utf-8")
    sheets = sheets_of(trial, layout, ground_of(layout), 2)
    records = yaml.safe_dump({"records": record_lines(sheets)}, allow_unicode=True)
    cut = re.sub(r"(?ms)^records:.*?(?=^responses:)", lambda _: records + "\n", text)
    (home / "trial.yaml").write_text(cut, encoding="utf-8")
    found = examine(home / "trial.yaml")
    assert found["problems"] == []
    season = ws.read_records(ws.read_trial(home / "trial.yaml"))
    assert set(season.tables) == {s.name for s in sheets}
    assert season.exclusions == ()
    assert sum(len(t) for t in season.tables.values()) == filled
    assert [n for n in season.notes if n.code == "not filled in yet"] == []


def test_the_empty_plain_tables_stand_under_the_names_that_new_writes(tmp_path: Path) -> None:
    assert run(["new", str(tmp_path / "mine")]) == 0
    trial_file = tmp_path / "mine" / "trial.yaml"
    assert run(["randomize", str(trial_file)]) == 0
    place = ws.papers(ws.read_trial(trial_file), tmp_path / "papers", visits=2)
    names = [s.file for held in ws.read_trial(trial_file).records.values() for s in held]
    for name in names:
        assert (place / "fill-in" / name).is_file()
        shutil.copy(place / "fill-in" / name, tmp_path / "mine" / name)
    assert examine(trial_file)["problems"] == []


def test_workbooks_lock_identifiers_and_hold_lists_and_dates(demos: dict[str, Path]) -> None:
    from openpyxl import load_workbook

    _, layout, files = files_of(demos["quarry-oaks"])
    book = load_workbook(BytesIO(files["fill-in/visits.xlsx"]))
    sheet = book["visits"]
    assert sheet.protection.sheet
    assert not sheet.protection.password
    heads = [c.value for c in sheet[1]]
    plot = sheet.cell(2, heads.index("plot") + 1)
    assert plot.protection.locked
    assert plot.value == ground_of(layout).plots[0].plot
    letter = "D"
    assert heads[3] == "status"
    assert not sheet.column_dimensions[letter].protection.locked
    rules = {str(r.sqref).split(":")[0]: r for r in sheet.data_validations.dataValidation}
    assert rules["D2"].formula1 == '"alive,doubtful,dead,not found,not visited"'
    assert rules["D2"].type == "list"
    assert rules["A2"].type == "date"
    assert int(rules["A2"].formula1) == (date(2025, 3, 17) - date(1899, 12, 30)).days
    assert rules["B2"].formula1 == "'lists'!$A$1:$A$24"
    assert sheet.column_dimensions["A"].number_format == "yyyy-mm-dd"
    sizes = load_workbook(BytesIO(files["fill-in/sizes.xlsx"]))["heights"]
    assert [c.value for c in sizes[1]] == [
        "date",
        "plot",
        "plant",
        "height, mm",
        "observer",
        "note",
    ]


def test_no_workbook_holds_a_formula_or_a_clock(demos: dict[str, Path]) -> None:
    folder = demos["quarry-oaks"]
    table = (folder / "layout.csv").read_text(encoding="utf-8")
    (folder / "layout.csv").write_text(table.replace("EN-A", "=1+1"), encoding="utf-8")
    (folder / "layout.record.json").unlink()
    edit(folder, "drawn: here", "drawn: elsewhere")
    _, _, files = files_of(folder)
    for path, data in files.items():
        if not path.endswith(".xlsx"):
            continue
        with zipfile.ZipFile(BytesIO(data)) as packed:
            for name in packed.namelist():
                part = packed.read(name)
                assert b"<f>" not in part
                assert not re.search(rb"<f\b", part)
                assert packed.getinfo(name).date_time == (1980, 1, 1, 0, 0, 0)
            assert b"2000-01-01T00:00:00Z" in packed.read("docProps/core.xml")
    assert "fill-in/visits.csv" not in files  # as text it would be a formula
    assert "visits.csv was not prepared" not in files["index.html"].decode()
    assert "visits.csv" in files["index.html"].decode()


def matrix_of(svg: str) -> list[list[int]]:
    """The dark modules of a drawn symbol."""
    side = int(re.search(r'viewBox="0 0 (\d+)', svg)[1]) - 2 * QUIET  # type: ignore[index]
    out = [[0] * side for _ in range(side)]
    for x, y, long in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", svg):
        for k in range(int(long)):
            out[int(y) - QUIET][int(x) - QUIET + k] = 1
    return out


def test_labels_hold_every_code_in_text_and_symbol(demos: dict[str, Path]) -> None:
    _, layout, files = files_of(demos["quarry-oaks"])
    walk = ground_of(layout).plots
    plots = files["labels-plots.html"].decode()
    plants = files["labels-plants.html"].decode()
    assert re.findall(r'class="code">([^<]+)<', plots) == [p.plot for p in walk for _ in "12"]
    codes = [plant_code(p.plot, str(n)) for p in walk for n in range(1, 9)]
    assert re.findall(r'class="code">([^<]+)<', plants) == codes
    drawn = re.findall(r'<div class="label"[^>]*>(<svg.*?</svg>)', plants, re.DOTALL)
    assert len(drawn) == len(codes)
    for svg, code in list(zip(drawn, codes, strict=True))[::37]:
        assert matrix_of(svg) == [list(map(int, row)) for row in symbol(code).matrix]
    assert symbol(codes[0]).designator.startswith("1-")  # the smallest that telephones read
    assert symbol_svg("KA-4") != symbol_svg("KA-3")


def texts(files: dict[str, bytes]) -> dict[str, str]:
    """Everything that can be read in the files, workbooks unpacked."""
    out = {}
    for path, data in files.items():
        if path.endswith(".xlsx"):
            with zipfile.ZipFile(BytesIO(data)) as packed:
                out[path] = "".join(packed.read(n).decode() for n in packed.namelist())
        else:
            out[path] = data.decode()
    return out


@pytest.mark.parametrize("name", ["quarry-oaks", "garden-peppers"])
def test_blind_papers_name_no_treatment_and_the_key_is_sealed(
    demos: dict[str, Path], name: str, tmp_path: Path
) -> None:
    import hashlib

    folder = demos[name]
    edit(folder, "plan:\n", "plan:\n  blind: true\n")
    edit(folder, "  title: ", "  title: Drip, capillary wick and ")
    trial = ws.read_trial(folder / "trial.yaml")
    written = write_papers(trial, ws.read_layout(trial), tmp_path / "papers")
    files = {n: (written.folder / n).read_bytes() for n in written.files}
    levels = [level for f in trial.factors for level in f.level_names]
    told = {n: text for n, text in texts(files).items() if not n.startswith("key/")}
    assert len(told) > 10
    for path, text in told.items():
        for level in levels:
            assert level.lower() not in text.lower(), (path, level)
    digest = hashlib.sha256(files[KEY_CSV]).hexdigest()
    papers = [n for n in told if n.endswith(".html")]
    assert all(digest in told[n] for n in papers)
    record = read_record(trial)
    assert record is not None
    assert record.sealed_key == digest == written.seal
    key = files[KEY_CSV].decode()
    assert all(p.plot in key and p.treatment in key for p in ws.read_layout(trial).plots)
    # the reservoir that plots share would tell which are treated alike
    shared = {p.reservoir for p in ws.read_layout(trial).plots if p.reservoir}
    whoever_waters = {"sheet-water.html", "fill-in/water-apart.xlsx"}
    if name == "garden-peppers":
        assert shared
        for path in told.keys() - whoever_waters:
            assert not any(str(r) in told[path] for r in shared), path


def test_blind_papers_do_not_tell_treatments_by_the_order_of_plots(tmp_path: Path) -> None:
    """A table sorted by treatment, without places: no list stands in its order."""
    plots = ["Q7", "M2", "T5", "B8", "Z1", "A4", "K3", "C9", "R6", "X10", "X2", "G5"]
    rows = [
        f"{plot},{1 + k // 3},{('hand', 'wick', 'clay pot')[k % 3]},2"
        for k, plot in enumerate(plots)
    ]
    (tmp_path / "layout.csv").write_text("\n".join(["plot,block,watering,plants", *rows, ""]))
    trial_file = tmp_path / "trial.yaml"
    trial_file.write_text(
        "format: 1\ntrial: {id: sorted}\n"
        "factors: {watering: [{name: hand}, {name: wick}, {name: clay pot}]}\n"
        "design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}\n"
        "responses: [{name: s, kind: survival, at: 2025-06-01}]\n"
        "plan: {blind: true}\n"
    )
    _, layout, files = files_of(tmp_path)
    told = texts(files)
    in_order = sorted(plots[:3]) + sorted(plots[3:6], reverse=True)
    in_order += [*sorted(plots[6:9]), "X10", "X2", "G5"]  # to and fro, P2 before P10
    assert [p.plot for p in ground_of(layout, by_name=True).plots] == in_order
    for path in ("map.svg", "sheet-visits.html", "labels-plots.html", "fill-in/visits.csv"):
        found = re.findall(
            rf"(?<!\w)(?:{'|'.join(plots)})(?!\w)", told[path].split("<main>")[-1]
        )
        assert list(dict.fromkeys(found)) == in_order, path
    with zipfile.ZipFile(BytesIO(files["fill-in/visits.xlsx"])) as packed:
        sheets = [packed.read(n).decode() for n in packed.namelist() if "/sheet" in n]
    lists = [s for s in sheets if "Q7" in s and "alive" not in s and "status" not in s]
    assert lists
    for sheet in lists:
        found = re.findall(rf">({'|'.join(plots)})<", sheet)
        assert list(dict.fromkeys(found)) == in_order
    assert "in the order of the plots" in told["map.html"]
    edit(tmp_path, "blind: true", "blind: false")
    assert "in the order of the layout" in texts(files_of(tmp_path)[2])["map.html"]


def test_open_papers_name_treatments_on_map_and_stakes_but_never_where_plants_are_scored(
    demos: dict[str, Path],
) -> None:
    trial, _, files = files_of(demos["quarry-oaks"])
    told = texts(files)
    for level in trial.factors[0].level_names:
        assert level in told["map.html"]
        assert level in told["labels-plots.html"]
        assert level in told["sheet-water.html"]
        for scored in ("visits", "measurements", "plants"):
            body = told[f"sheet-{scored}.html"].split("<main>")[1]
            assert level not in body
        assert level not in told["labels-plants.html"]


def test_a_plot_whose_name_tells_its_treatment_is_refused_when_blind(
    demos: dict[str, Path],
) -> None:
    folder = demos["quarry-oaks"]
    table = (folder / "layout.csv").read_text(encoding="utf-8")
    (folder / "layout.csv").write_text(
        table.replace("EN-A", "Capillary wick 1"), encoding="utf-8"
    )
    (folder / "layout.record.json").unlink()
    edit(folder, "drawn: here", "drawn: elsewhere")
    edit(folder, "plan:\n", "plan:\n  blind: true\n")
    with pytest.raises(LayoutError) as error:
        files_of(folder)
    (problem,) = error.value.problems
    assert problem.place == "layout.csv, row 2, column plot"
    assert problem.found == "Capillary wick 1, which holds capillary wick"


def test_markup_in_names_is_text(demos: dict[str, Path]) -> None:
    folder = demos["quarry-oaks"]
    evil = '<script>alert("x")</script>&amp;'
    table = (folder / "layout.csv").read_text(encoding="utf-8")
    (folder / "layout.csv").write_text(
        table.replace("EN-A", "<b>x").replace("capillary wick", "<i>wick"), encoding="utf-8"
    )
    (folder / "layout.record.json").unlink()
    text = (
        (folder / "trial.yaml").read_text(encoding="utf-8").replace("capillary wick", "<i>wick")
    )
    text = text.replace("drawn: here", "drawn: elsewhere")
    text = re.sub(r"(?m)^  title: .*$", lambda _: f"  title: '{evil}'", text)
    (folder / "trial.yaml").write_text(text, encoding="utf-8")
    _, _, files = files_of(folder)
    for name, text in texts(files).items():
        if name.endswith((".html", ".svg")):
            assert "<script" not in text, name
            assert "<b>x" not in text, name
            assert "<i>" not in text, name
    assert "&lt;script&gt;" in files["map.html"].decode()
    parse_page(files["map.html"])


def test_nothing_that_was_typed_is_overwritten(demos: dict[str, Path], tmp_path: Path) -> None:
    trial = ws.read_trial(demos["garden-peppers"] / "trial.yaml")
    place = ws.papers(trial, tmp_path / "papers")
    assert ws.papers(trial, tmp_path / "papers") == place  # untouched papers are renewed
    book = place / "fill-in" / "season.xlsx"
    fill(book, ws.read_layout(trial))
    typed = book.read_bytes()
    with pytest.raises(ReportError) as error:
        ws.papers(trial, place)
    assert [p.file for p in error.value.problems] == ["papers/fill-in/season.xlsx"]
    assert book.read_bytes() == typed
    other = tmp_path / "other"
    other.mkdir()
    (other / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="manifest"):
        ws.papers(trial, other)
    assert [p.name for p in other.iterdir()] == ["notes.txt"]


def test_without_a_layout_the_place_is_told(
    demos: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = demos["quarry-oaks"]
    (folder / "layout.csv").unlink()
    out = tmp_path / "papers"
    assert run(["papers", str(folder / "trial.yaml"), "--out", str(out)]) == 1
    said = capsys.readouterr().err
    assert "layout.csv: missing file" in said
    assert "randomize" in said
    assert not out.exists()


def test_arrows_stand_where_they_are_stated_and_a_place_to_draw_where_not(
    demos: dict[str, Path],
) -> None:
    folder = demos["quarry-oaks"]
    before = files_of(folder)[2]["map.svg"].decode()
    assert "north: not" in before
    assert "slope: not" in before
    assert ">2 m<" in before
    edit(
        folder,
        "plot_width_m: 3,",
        "plot_width_m: 3, top_bearing_deg: 90, downhill_bearing_deg: 180,",
    )
    after = files_of(folder)[2]["map.svg"].decode()  # the layout still is what was drawn
    assert "north:" not in after
    assert "slope:" not in after
    # the top faces east: north is to the left (270), downhill (south) to the right (90)
    assert re.findall(r"rotate\((\d+) ", after) == ["270", "90"]


def test_a_bench_has_neither_north_nor_slope_and_tells_its_runs_once(
    demos: dict[str, Path],
) -> None:
    files = files_of(demos["bench-cords"])[2]
    assert "north" not in files["map.svg"].decode()
    assert "slope" not in files["map.svg"].decode()
    heads = re.findall(r'<th scope="col"[^>]*>([^<]+)', files["map.html"].decode())
    assert "Run" in heads
    assert "Block" not in heads


def test_long_heads_break_at_their_underscores_only(demos: dict[str, Path]) -> None:
    told = files_of(demos["quarry-oaks"])[2]["sheet-water.html"].decode()
    assert "level_\N{ZERO WIDTH SPACE}before_\N{ZERO WIDTH SPACE}cm" in told


def test_controls_without_a_cord_stand_in_every_run(demos: dict[str, Path]) -> None:
    _, layout, files = files_of(demos["bench-cords"])
    told = files["sheet-readings.html"].decode()
    runs = {p.run for p in layout.plots}
    assert told.count(">control 1<") == told.count(">control 2<") == len(runs) == 3


@pytest.mark.parametrize("counted", [True, False])
def test_days_lived_have_a_sheet_of_their_own_that_reads_back(
    counted: bool, tmp_path: Path
) -> None:
    from openpyxl import load_workbook

    folder = shutil.copytree(OPEN / "litters", tmp_path / "litters")
    edit(folder, "file: rats.csv", "file: days.xlsx, sheet: days")
    if counted:
        laid = (folder / "layout.csv").read_text(encoding="utf-8").splitlines()
        lines = [laid[0] + ",plants", *(line + ",1" for line in laid[1:])]
        (folder / "layout.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    _, layout, files = files_of(folder)
    assert not any("visits" in path for path in files)
    assert b"was never seen dead" in files["sheet-lifetimes.html"]
    book = load_workbook(BytesIO(files["fill-in/days.xlsx"]))
    sheet = book["days"]
    heads = ["plot", "plant", "last_alive_d", "first_dead_d", "cause", "note"]
    assert [c.value for c in sheet[1]] == heads
    assert not sheet.column_dimensions["B"].protection.locked
    assert {c.value for c in sheet["A"][1:151]} == {p.plot for p in layout.plots}
    for k in range(2, 152):
        # prepared and locked, or blank in a column that is open
        assert (sheet.cell(k, 2).value == "1") == counted
        for column, value in ((2, "1"), (3, 300 + k), (4, 300 + k if k % 2 else None)):
            if sheet.cell(k, column).value is None:
                sheet.cell(k, column).value = value
    book.save(folder / "days.xlsx")
    found = examine(folder / "trial.yaml")
    assert found["problems"] == []
    season = ws.read_records(ws.read_trial(folder / "trial.yaml"))
    assert season.exclusions == ()
    assert season.lives is not None
    assert len(season.lives) == 150
    assert (season.lives["fate"] == "dead").sum() == 75
