"""Sentences of the audit."""

from wickstats.core.words.plural import Entry, Plural

ENGLISH: dict[str, Entry] = {
    "audit changed file": "the file is not the one that the manifest lists (SHA-256 differs)",
    "audit changed rows": "the file is not the one that the manifest lists; {rows} differ",
    "audit missing": "the manifest lists this file, but it is not in the folder",
    "audit unlisted": "this file is in the folder, but the manifest does not list it",
    "audit misdescribed": "the manifest gives this file another size, or other rows, than it has",
    "audit listed twice": "the manifest lists this file more than once",
    "audit manifest trial": "the manifest is of the trial {there}, results.json of {here}",
    "audit input": (
        "the file is not the one that was analyzed: results.json records SHA-256 {recorded}, "
        "the file has {found}"
    ),
    "audit input missing": "results.json says that this file was read, but it is not archived",
    "audit input extra": "this file was archived, but results.json does not say it was read",
    "audit number": "recorded {recorded}, recomputed {recomputed}",
    "audit of": "{told} ({names})",
    "audit only recorded": "recorded as {recorded}, but the recomputation gives no such key",
    "audit only recomputed": "not recorded, but the recomputation gives {recomputed}",
    "audit no recompute": (
        "the numbers could not be recomputed from the archived inputs: {why}"
    ),
    "audit rebuilt": (
        "the file is not what the recomputed results give, although the same versions of "
        "wickstats and its libraries were used: {told}"
    ),
    "audit not rebuilt": (
        "tables were compared as numbers and the page by its words, not byte by byte, since the "
        "versions differ: {versions}"
    ),
    "audit says other": "the file does not say what the recomputed results give: {told}",
    "audit bytes differ": "its bytes differ, though nothing that it says",
    "audit and more": "and {n} more",
    "audit rows": "{recorded} rows, recomputed {recomputed}",
    "audit row cells": "row {row}: {recorded} cells, recomputed {recomputed}",
    "audit cell": "row {row}, column {column}: {told}",
    "audit hidden": Plural(
        one="a file whose name begins with a dot was not looked at; no report holds such a file",
        other="{n} files whose names begin with a dot were not looked at; no report holds such "
        "files",
    ),
    "audit order": (
        "it holds what the recomputation gives, but in another order or spacing than wickstats "
        "writes it"
    ),
    "audit markup": "its markup or style differs, though no word of it",
    "audit drawn numbers": Plural(
        one="drawn otherwise: {n} number differs, {told}",
        other="drawn otherwise: {n} numbers differ, the first {told}",
    ),
    "audit alike": Plural(
        one="written with other last digits; no number differs by more than a part in 100 million, "
        "as between two machines",
        other="written with other last digits; no number differs by more than a part in 100 "
        "million, as between two machines",
    ),
    "audit size told": "the size of {path} is told as {told}, it is {size}",
    "audit drawn": "drawn otherwise",
    "audit pictures": Plural(
        one="it says the same, but is not drawn as these versions draw it; other versions may be "
        "why, so that a line moved by hand cannot be told: compare it with its table",
        other="they say the same, but are not drawn as these versions draw them; other versions "
        "may be why, so that a line moved by hand cannot be told: compare them with their tables",
    ),
    "audit line ends": Plural(
        one="only its line ends differ from the recorded ones, as version-control programs "
        "change them; it was audited with its own",
        other="only their line ends differ from the recorded ones, as version-control programs "
        "change them; they were audited with their own",
    ),
    "audit ask line ends": "Was the folder kept by a program that changes line ends? Ask that it "
    "store files as they are.",
    "audit versions missing": "the manifest names no version of {names}",
    "audit same anyway": "the manifest names other versions ({versions}); every file is, byte for "
    "byte, what the versions here give",
    "audit python": "written under Python {then}, audited under {now}",
    "audit seed of trial": "the trial file names the seed {there}, the layout's record {here}: the "
    "layout is the one of the record",
    "audit in picture": "picture {n}: {told}",
    "audit not there": "the recomputed results give this file, but it is not in the folder",
    "audit not ours": "this file is in the folder, but no report holds it",
    "audit version": "the manifest says that wickstats {there} wrote it, results.json {here}",
    "audit version page": "results.json says wickstats {here}, the page does not",
    "audit layout unknown": (
        "Whether the layout follows from its seed could not be checked: there is no seed, or "
        "nothing could be recomputed."
    ),
    "audit results unreadable": "{found}; expected {expected}",
    "audit language": (
        "the manifest names the language {language} for the page, which this program does not "
        "write"
    ),
    "audit manifest missing": (
        "the manifest is not in the folder: whether a file was changed after the report was "
        "written is not known, and the versions that wrote it are not told"
    ),
    "audit manifest unreadable": "the manifest cannot be read: {found}",
    "audit against": "here {recorded}, in the other folder {recomputed}",
    "audit second disagrees": "the second engine gives {theirs}, the report {ours}",
    "audit intro": (
        "This page was made by recomputing every number of the archived report from its "
        "archived inputs. The folder was only read."
    ),
    "audit title": "Audit of {folder}",
    "audit found title": "What was found",
    "audit checked title": "What was checked",
    "audit findings caption": "Findings",
    "audit head place": "Place",
    "audit head weight": "Weight",
    "audit head kind": "Kind",
    "audit head finding": "Finding",
    "audit ask lead": "What to ask, by kind of finding:",
    "audit asked": Plural(
        one="{kind}, {n} finding: {ask}",
        other="{kind}, {n} findings: {ask}",
    ),
    "audit head number": "Number",
    "audit head report": "In the report",
    "audit more": Plural(
        "{n} more finding is not listed here.", "{n} more findings are not listed here."
    ),
    "audit clean": Plural(
        "Nothing serious was found: {n} value was recomputed and agrees.",
        "Nothing serious was found: {n} values were recomputed and agree.",
    ),
    "audit serious": Plural(
        "One serious finding. The report should not be relied on until it is explained.",
        "{n} serious findings. The report should not be relied on until each is explained.",
    ),
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
    "audit ask manifest": "Who changed this file after the report was written, and why? Ask "
    "for the folder as it was first archived.",
    "audit ask input": "Which file did the crew hand over? Ask for the original and compare.",
    "audit ask number": "How did this value come to differ? Ask for the report to be made "
    "again from the archived inputs.",
    "audit ask file": "Who edited this file by hand? Ask for the report to be made again.",
    "audit ask second engine": "Which of the two values is right? Ask a statistician to compute "
    "it by hand from the table of units.",
    "audit ask against": "Why do the two reports differ here?",
    "audit ask plan": "What was changed in the plan, when, and had anybody seen results by then?",
    "audit ask layout": "Who drew the layout, how, and was it drawn more than once?",
    "audit ask balance": "Why did this person see or plant more of one treatment? Did they know "
    "the treatments?",
    "audit ask digits": "How finely was the instrument read, and were values rounded?",
    "audit ask copied": "Were these values read twice in the field, or carried over when the "
    "sheet was typed?",
    "audit ask looks": "What was decided after the earlier look?",
    "audit ask link": "Why does a link stand in the folder? Ask for the file itself.",
    "audit link": "this is a link out of what was archived, not a file; it was not followed",
    "audit plan changed": "design, factors, responses or plan are not those whose digest the "
    "layout's record holds: they were changed after the layout was drawn",
    "audit plan kept": "Design, factors, responses and plan are those whose digest stood in the "
    "layout's record when it was drawn (claimed on {day}).",
    "audit plan unlocked": "No layout record holds a digest of the plan: that it was written "
    "before planting cannot be checked.",
    "audit plan late": "the layout is claimed to have been drawn on {day}, but the records "
    "begin on {first}",
    "audit redrawn": "the layout was drawn {count} times; the reason given for drawing again: "
    "{reason}",
    "audit chance neighbors": "side by side plots of the same treatment: {found}; layouts drawn "
    "by the same scheme are as far from their middle in a share of {p}",
    "audit chance pairs": "which treatments lie side by side, {way} than by chance: layouts drawn "
    "by the same scheme are as far from their middle in a share of {p}",
    "audit chance rows": "how treatments lie over rows, {way} than by chance: layouts drawn by "
    "the same scheme are as far from their middle in a share of {p}",
    "audit chance columns": "how treatments lie over columns, {way} than by chance: layouts drawn "
    "by the same scheme are as far from their middle in a share of {p}",
    "audit more even": "more evenly",
    "audit less even": "less evenly",
    "audit chance person": "how unevenly {who} met the treatments ({column} in {table}): "
    "layouts drawn by the same scheme give as uneven a share in {p}",
    "audit chance unknown": "Whether the layout would be surprising under its scheme could not "
    "be asked: {why}",
    "audit chance none": "layouts of this type that were drawn elsewhere are not drawn again here",
    "audit digits": "last digits of {column}: {digit} ends {share} of {count} values, where "
    "about a tenth is usual",
    "audit copied plots": "plots {one} and {two} have the same {count} values of {column} on "
    "{day}, in the same order",
    "audit copied days": "plot {one} has the same {count} values of {column} on {day} as on "
    "{before}, in the same order",
    "audit copied rows": "rows {first} to {last} hold the same {count} values of {column}, in the "
    "same order, as rows {before} to {until}",
    "audit question note": "Questions are no accusations: chance alone raises some, and most "
    "have a plain answer in the field.",
    "audit questions none": "Nothing in the records raised a question: last digits, rows that "
    "repeat, who met which treatment, where the treatments lie.",
    "audit look early": "the records end on {until}, the season on {planned}: an early look",
    "audit looks": "the season was looked at {count} times; this report is look {number}",
    "against trials": "reports of two trials: here {here}, in the other folder {there}",
    "against layouts": "the two reports rest on two layouts or plans",
    "against looks": "two looks at one season: here the records end on {here}, in the other "
    "folder on {there}; only the last look confirms, and of these that is the one until {later}",
    "against input": "other bytes in the other folder ({here} rows here, {there} there)",
    "against only here": "only here, not in the other folder",
    "against only there": "only in the other folder, not here",
    "against value": "{what} {here} here, {there} in the other folder",
    "against pair": "{one} against {other}",
    "against test": "test of {term} ({stratum})",
    "against part": Plural(one="{first}", other="{n} values differ; {first}"),
    "against same": "the two reports say the same",
    "audit areas": "values that differ between the two reports: {told}",
}
