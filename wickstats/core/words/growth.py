"""Growth over the visits: rates by treatment from the mixed model, beside the first line."""

ENGLISH = {
    "growth rates head": "Growth over the visits",
    "growth rates facts": (
        "Growth over the visits: every size of every living plant, with a common course over "
        "the dates, a growth rate for each treatment, and rates that differ between {unit}s "
        "and between plants at random (Laird and Ware 1982; {terms}), with Kenward-Roger degrees "
        "of freedom. A second look at the season's growth, which sets no verdict; differences of rates, with their intervals:"
    ),
    "growth rate of term": "growth rate: {term}",
    "growth rate row": (
        "{name}: {estimate} {measured_in}, interval {low} to {high}, {df} degrees of freedom"
    ),
    "growth rate missing": "{name}: not given, {why}",
    "growth rates caption": "{name}: tests of growth rates (mixed model over all dates)",
}
