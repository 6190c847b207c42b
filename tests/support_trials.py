"""Bad trial files: what is changed in a good one, to be read beside trial_messages.json."""

GOOD = """\
format: 1
trial:
  id: quarry-oaks
  title: Ways of watering
  season: {start: 2025-03-17, end: 2025-10-13}
factors:
  watering:
    - {name: hand watering, reference: true}
    - {name: capillary wick}
    - {name: drip}
design:
  type: randomized complete block
  blocks: 6
  plants_per_plot: 8
  seed: 7
  layout: layout.csv
  drawn: here
records:
  visits: {file: visits.csv}
  measurements: {file: sizes.csv, columns: {height_cm: {head: "height, mm", measured_in: mm}}}
  picks: picks.csv
  water: {file: water.csv}
responses:
  - {name: survival, kind: survival, at: [2025-07-01, 2025-10-13], better: more}
  - {name: height, kind: growth, column: height_cm, measured_in: cm, range: [1, 200]}
  - {name: fruit, kind: yield, column: marketable_kg}
  - {name: fruit per liter, kind: yield per liter, yield: fruit, water: delivered}
plan:
  primary: survival
  secondary: [height]
  confidence: 0.95
  comparisons:
    - {factor: watering, compare: each with the reference, adjustment: dunnett}
  matters:
    survival: {difference: 0.10}
    height: {ratio: 1.15}
  equal_water: {ratio: 1.10}
water:
  planned_l: {hand watering: 480, capillary wick: 240, drip: 300}
  reservoirs: {holds_l: 20, unusable_l: 1.5}
power:
  assume:
    survival: {alive_at_end: {hand watering: 0.6, capillary wick: 0.8, drip: 0.7}}
"""

# name -> (what stands in the good file, what stands there now)
CASES: dict[str, tuple[str, str]] = {
    # keys and words
    "unknown key": ("  blocks: 6", "  blokcs: 6"),
    "unknown key far from any": ("  seed: 7", "  seed: 7\n  weather station: 4"),
    "key in the wrong section": ("  title: Ways of watering", "  primary: survival"),
    "key with other spelling": ("plants_per_plot", "Plants per plot"),
    "comma in an unquoted text": (
        "season: {start: 2025-03-17, end: 2025-10-13}",
        "site: {name: Terrace, above the road}",
    ),
    "unknown record table": ("  picks: picks.csv", "  harvests: picks.csv"),
    "unknown word": ("drawn: here", "drawn: her"),
    "unknown design": ("randomized complete block", "RCBD"),
    "unknown kind": ("kind: growth", "kind: size"),
    "unknown adjustment": ("adjustment: dunnett", "adjustment: bonferroni"),
    "unknown format": ("format: 1", "format: 2"),
    "missing key": ("  layout: layout.csv\n", ""),
    "missing section": ("format: 1\n", ""),
    "missing size": ("  blocks: 6\n", ""),
    "missing plants": ("  plants_per_plot: 8\n", ""),
    "missing column": ("column: height_cm, ", ""),
    "missing value": ("  seed: 7", "  seed:"),
    "missing section contents": ("  primary: survival\n", "  primary:\n"),
    "duplicate key": ("  blocks: 6", "  blocks: 6\n  blocks: 5"),
    # types
    "word for a number": ("blocks: 6", "blocks: six"),
    "number with decimals": ("blocks: 6", "blocks: 6.5"),
    "number with a unit": ("holds_l: 20", "holds_l: 20 L"),
    "decimal comma": ("unusable_l: 1.5", 'unusable_l: "1,5"'),
    "clock for a number": ("blocks: 6", "blocks: 12:30"),
    "infinity": ("holds_l: 20", "holds_l: .inf"),
    "zero blocks": ("blocks: 6", "blocks: 0"),
    "negative seed": ("seed: 7", "seed: -7"),
    "percent for a share": ("confidence: 0.95", "confidence: 95"),
    "share above one": ("drip: 0.7}", "drip: 70}"),
    "date in other order": ("end: 2025-10-13", "end: 13/10/2025"),
    "day that does not exist": ("end: 2025-10-13", "end: 2025-02-30"),
    "mapping for a list": ("secondary: [height]", "secondary: {height: 1}"),
    "list for a text": ("title: Ways of watering", "title: [Ways, of, watering]"),
    "text for a list": (
        (
            "comparisons:\n    - {factor: watering, compare: each with the reference, "
            "adjustment: dunnett}\n"
        ),
        "comparisons: all pairs\n",
    ),
    "text for a section": ("  reservoirs: {holds_l: 20, unusable_l: 1.5}", "  reservoirs: yes"),
    "neither true nor false": ("reference: true", "reference: maybe"),
    "one level": ("    - {name: capillary wick}\n    - {name: drip}\n", ""),
    "id with blanks": ("id: quarry-oaks", "id: quarry oaks"),
    "range turned around": ("range: [1, 200]", "range: [200, 1]"),
    "range of three": ("range: [1, 200]", "range: [1, 50, 200]"),
    "dates and days mixed": ("at: [2025-07-01, 2025-10-13]", "at: [2025-07-01, 210]"),
    # contradictions
    "two references": ("{name: drip}", "{name: drip, reference: true}"),
    "level twice": ("{name: drip}", "{name: capillary wick}"),
    "level with the joining word": ("{name: drip}", "{name: drip x mulch}"),
    "factor called as a column": ("  watering:\n", "  block:\n"),
    "applied to the wrong piece": (
        (
            "  watering:\n    - {name: hand watering, reference: true}\n"
            "    - {name: capillary wick}\n    - {name: drip}\n"
        ),
        (
            "  watering: {applied_to: whole plot, levels: [{name: hand watering, "
            "reference: true}, capillary wick, drip]}\n"
        ),
    ),
    "split-plot without subplots": ("randomized complete block", "split-plot"),
    "size of another design": ("blocks: 6", "blocks: 6\n  squares: 3"),
    "too many plots": ("blocks: 6", "blocks: 9999999"),
    "season turned around": ("end: 2025-10-13}\n", "end: 2025-01-13}\n"),
    "date out of season": ("at: [2025-07-01, 2025-10-13]", "at: 2025-12-24"),
    "dates out of order": ("at: [2025-07-01, 2025-10-13]", "at: [2025-10-13, 2025-07-01]"),
    "days without lifetimes": ("at: [2025-07-01, 2025-10-13]", "at: 210"),
    "unknown primary": ("primary: survival", "primary: survivl"),
    "primary also secondary": ("secondary: [height]", "secondary: [survival]"),
    "unknown factor": ("factor: watering", "factor: wattering"),
    "no reference": (", reference: true}", "}"),
    "dunnett for all pairs": ("each with the reference", "all pairs"),
    "unknown level in weights": (
        "compare: each with the reference, adjustment: dunnett}",
        "weights: {capilary wick: 1, hand watering: -1}}",
    ),
    "weights that do not sum to zero": (
        "compare: each with the reference, adjustment: dunnett}",
        "weights: {capillary wick: 1, hand watering: -0.5}}",
    ),
    "weights with words": (
        "adjustment: dunnett}",
        "weights: {drip: 1, hand watering: -1}}",
    ),
    "unknown within": ("adjustment: dunnett}", "within: shelter}"),
    "matters for an unknown response": ("    height: {ratio", "    hight: {ratio"),
    "ratio for a share": ("survival: {difference: 0.10}", "survival: {ratio: 1.2}"),
    "difference on a log scale": ("height: {ratio: 1.15}", "height: {difference: 3}"),
    "percent for a difference": ("difference: 0.10", "difference: 10"),
    "planned water for an unknown treatment": ("drip: 300", "dripp: 300"),
    "planned water missing": (", drip: 300", ""),
    "equal water without a plan": (
        "  planned_l: {hand watering: 480, capillary wick: 240, drip: 300}\n",
        "",
    ),
    "yield of an unknown response": ("yield: fruit,", "yield: froot,"),
    "yield of another kind": ("yield: fruit,", "yield: height,"),
    "key of another kind": ("column: marketable_kg}", "column: marketable_kg, top_mm: 3}"),
    "unknown pick column": ("column: marketable_kg", "column: marketabl_kg"),
    "table that a response needs": ("  visits: {file: visits.csv}\n", ""),
    "more unusable than held": ("unusable_l: 1.5", "unusable_l: 25"),
    "assumption for an unknown response": ("    survival: {alive", "    survial: {alive"),
    # files
    "path out of the folder": ("visits.csv", "../visits.csv"),
    "absolute path": ("visits.csv", "/etc/visits.csv"),
    "backslash": ("visits.csv", "data\\visits.csv"),
    "unknown ending": ("picks.csv", "picks.ods"),
    "sheet of a CSV file": ("{file: visits.csv}", "{file: visits.csv, sheet: May}"),
    "unknown column of ours": (
        "water: {file: water.csv}",
        "water: {file: water.csv, columns: {aplied_l: cans}}",
    ),
    "dates not by example": (
        "{file: visits.csv}",
        "{file: visits.csv, dates: dd/mm/yyyy}",
    ),
    "same file twice": ("picks: picks.csv", "picks: layout.csv"),
    # YAML
    "colon in a text": ("title: Ways of watering", "title: Ways: of watering"),
    "hash swallows a bracket": ("{name: drip}", "{name: plot #3}"),
    "question mark": ("title: Ways of watering", "title: ? which way"),
    "tab": ("  blocks: 6", "\tblocks: 6"),
    "open quote": ("title: Ways of watering", 'title: "Ways of watering'),
    "open bracket": ("secondary: [height]", "secondary: [height"),
    "uneven indentation": ("  blocks: 6", "   blocks: 6"),
    "anchor": ("{name: drip}", "&d {name: drip}"),
    "alias": ("seed: 7", "seed: *seven"),
    "merge key": ("  seed: 7", "  <<: {seed: 7}"),
    "tag": ("seed: 7", "seed: !!int 7"),
    "second document": ("water:\n  planned", "---\nwater:\n  planned"),
    "control character": ("Ways of watering", "Ways of \x07watering"),
    "turned writing": ("Ways of watering", "Ways of \u202ewatering"),
    "escaped control character": ("title: Ways of watering", 'title: "Ways\\x1b[31m"'),
    "key that is a list": ("  seed: 7", "  [seed]: 7"),
    # what a fresh pair of eyes tried
    "levels alike but for capitals": ("{name: drip}", "{name: Hand Watering}"),
    "comparison again": (
        "  matters:",
        (
            "    - {factor: watering, compare: each with the reference, adjustment: dunnett}\n"
            "  matters:"
        ),
    ),
    "no space after a colon": ("  blocks: 6", "  blocks:6"),
    "hard space after a colon": ("  blocks: 6", "  blocks:\u00a06"),
    "text that begins with a percent sign": ("  title: Ways", "  title: %Ways"),
    "text that begins with an at sign": ("  title: Ways", "  title: @Ways"),
    "yield in another unit": (
        "column: marketable_kg}",
        "column: marketable_kg, measured_in: g}",
    ),
    "word near none": ("better: more", "better: higher"),
    "key near none": ("format: 1", "format: 1\nauthor: A. Example"),
    # assumptions that cannot be
    "survival above one": ("capillary wick: 0.8, drip", "capillary wick: 1.8, drip"),
    "survival in percent": ("capillary wick: 0.8, drip", "capillary wick: 80, drip"),
    "negative variation": (
        "drip: 0.7}}",
        (
            "drip: 0.7}}\n"
            "    height: {mean: {hand watering: 45, capillary wick: 54, drip: 50}, "
            "plot_cv: -0.1}"
        ),
    ),
    "negative standard deviation": (
        "drip: 0.7}}",
        (
            "drip: 0.7}}\n"
            "    height: {mean: {hand watering: 45, capillary wick: 54, drip: 50}, plot_sd: -4}"
        ),
    ),
    "correlation of one": ("drip: 0.7}}", "drip: 0.7}, plot_correlation: 1}"),
    "correlation below zero": ("drip: 0.7}}", "drip: 0.7}, plot_correlation: -0.1}"),
    "correlations above one together": (
        "drip: 0.7}}",
        "drip: 0.7}, plot_correlation: 0.6, block_correlation: 0.5}",
    ),
    "assumption about an unknown treatment": ("drip: 0.7}}", "drip: 0.7, capilary wick: 0.8}}"),
    "causes that do not sum to one": (
        "drip: 0.7}}",
        "drip: 0.7}, causes: {drought: 0.5, browsing: 0.2}}",
    ),
    "unknown cause": ("drip: 0.7}}", "drip: 0.7}, causes: {thirst: 1}}"),
    "mean beyond the range": (
        "drip: 0.7}}",
        (
            "drip: 0.7}}\n"
            "    height: {mean: {hand watering: 45, capillary wick: 540, drip: 50}, "
            "plot_cv: 0.1}"
        ),
    ),
    "mean not above zero": (
        "drip: 0.7}}",
        (
            "drip: 0.7}}\n"
            "    fruit: {mean: {hand watering: 4.5, capillary wick: 0, drip: 5}, plot_cv: 0.1}"
        ),
    ),
    "margin beyond reach": ("survival: {difference: 0.10}", "survival: {difference: 0.85}"),
    "more plots lost than half": ("power:\n", "power:\n  crew: {plots_lost: 0.9}\n"),
    "fewer visits than one": ("power:\n", "power:\n  crew: {visits_every_d: 400}\n"),
    "rounds that overlap": (
        "power:\n",
        "power:\n  crew: {visits_every_d: 7, visits_spread_d: 9}\n",
    ),
    "unknown key of the crew": ("power:\n", "power:\n  crew: {visit_every_d: 7}\n"),
    "mark of a simulation without a seal of digits": (
        "  title: Ways of watering",
        "  simulated: {seed: 1, tables: abc}",
    ),
    "costs without a currency": ("power:\n", "costs: {wage_per_hour: 14}\npower:\n"),
    "negative price": (
        "power:\n",
        "costs: {currency: EUR, items: [{what: pot, each: -3}]}\npower:\n",
    ),
    "unknown per": (
        "power:\n",
        "costs: {currency: EUR, items: [{what: pot, each: 3, per: pot}]}\npower:\n",
    ),
    "price missing": (
        "power:\n",
        "costs: {currency: EUR, items: [{what: pot, per: plot}]}\npower:\n",
    ),
    "nothing lasts": (
        "power:\n",
        "costs: {currency: EUR, items: [{what: pot, each: 3, lasts_seasons: 0}]}\npower:\n",
    ),
    "item for an unknown treatment": (
        "power:\n",
        "costs: {currency: EUR, items: [{what: pot, for: [clay pot], each: 3}]}\npower:\n",
    ),
    "hours for missing treatment": (
        "power:\n",
        (
            "costs: {currency: EUR, wage_per_hour: 14, "
            "hours_per_visit: {hand watering: 0.2, drip: 0.1}}\npower:\n"
        ),
    ),
    "hours for an unknown treatment": (
        "power:\n",
        (
            "costs: {currency: EUR, wage_per_hour: 14, "
            "hours_per_visit: {hand watering: 0.2, drip: 0.1, wick: 0}}\npower:\n"
        ),
    ),
    "hours without a wage": (
        "power:\n",
        (
            "costs: {currency: EUR, "
            "hours_per_visit: {hand watering: 0.2, drip: 0.1, capillary wick: 0}}\npower:\n"
        ),
    ),
    "negative hours": (
        "power:\n",
        (
            "costs: {currency: EUR, wage_per_hour: 14, "
            "hours_per_visit: {hand watering: -0.2, drip: 0.1, capillary wick: 0}}\npower:\n"
        ),
    ),
    "travel without a price": (
        "power:\n",
        "costs: {currency: EUR, travel: {km_per_visit: 44}}\npower:\n",
    ),
    "unknown key of costs": (
        "power:\n",
        "costs: {currency: EUR, wages: 14}\npower:\n",
    ),
}
