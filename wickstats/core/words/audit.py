"""Sentences of the audit."""

ENGLISH = {
    "audit changed file": "the file is not the one that the manifest lists (SHA-256 differs)",
    "audit changed rows": "the file is not the one that the manifest lists; {rows} differ",
    "audit missing": "the manifest lists this file, but it is not in the folder",
    "audit unlisted": "this file is in the folder, but the manifest does not list it",
    "audit input": (
        "the file is not the one that was analyzed: results.json records SHA-256 {recorded}, "
        "the file has {found}"
    ),
    "audit input missing": "results.json says that this file was read, but it is not archived",
    "audit input extra": "this file was archived, but results.json does not say it was read",
    "audit number": "recorded {recorded}, recomputed {recomputed}",
    "audit only recorded": "recorded as {recorded}, but the recomputation gives no such key",
    "audit only recomputed": "not recorded, but the recomputation gives {recomputed}",
    "audit no recompute": (
        "the numbers could not be recomputed from the archived inputs: {why}"
    ),
    "audit rebuilt": (
        "the file is not what the recomputed results give, although the same versions of "
        "wickstats and its libraries were used"
    ),
    "audit not rebuilt": (
        "tables were compared as numbers and the page by its words, not byte by byte, since the "
        "versions differ: {versions}"
    ),
    "audit says other": "the file does not say what the recomputed results give",
    "audit pictures": (
        "{count} pictures are not the ones that these versions draw; other versions may be why, "
        "so that a change by hand cannot be told"
    ),
    "audit not there": "the recomputed results give this file, but it is not in the folder",
    "audit not ours": "this file is in the folder, but no report holds it",
    "audit version": "the manifest says that wickstats {there} wrote it, results.json {here}",
    "audit version page": "results.json says wickstats {here}, the page does not",
    "audit layout unknown": (
        "Whether the layout follows from its seed could not be checked: there is no seed, or "
        "nothing could be recomputed."
    ),
    "audit results unreadable": "{found}; expected {expected}",
    "audit manifest unreadable": "the manifest cannot be read: {found}",
    "audit against": "here {recorded}, in the other folder {recomputed}",
    "audit second disagrees": "the second engine gives {theirs}, the report {ours}",
    "audit intro": (
        "This page was made by recomputing every number of the archived report from its "
        "archived inputs. The folder was only read."
    ),
    "audit clean": "Nothing serious was found: {count} values were recomputed and agree.",
    "audit serious": "{count} serious findings. The report should not be relied on until "
    "each is explained.",
    "audit serious one": "One serious finding. The report should not be relied on until it is "
    "explained.",
    "audit layout here": "The layout was drawn again from its seed and is the archived one.",
    "audit layout elsewhere": (
        "The layout was drawn elsewhere: that it was drawn at random cannot be checked."
    ),
    "audit layout not random": (
        "The layout was not drawn at random: position and method cannot be told apart."
    ),
    "audit not checkable": (
        "When the plan was written and when the layout was drawn are claimed, never proven. An "
        "audit shows that the report follows from the archived records, not that these are the "
        "field's."
    ),
}
