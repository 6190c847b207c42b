"""Items of reporting guidelines, in our own words, with the place that answers each."""

ENGLISH = {
    "checklists title": "Reporting checklists",
    "checklists words": (
        "Each item is told in our own words, with the part of this page that answers it. What "
        "the records do not hold is called not answered; the authors of a paper must add it."
    ),
    "checklist head item": "Item",
    "checklist head asked": "What is asked",
    "checklist head place": "Answered in",
    "checklist none": "not answered",
    "checklist fold": "{name}: {k} of {n} items are answered in this report",
    "checklist arrive": "ARRIVE 2.0, the ten essentials (Percie du Sert et al. 2020)",
    "checklist arrive note": (
        "Written for animals; read here as plants and plots. Items 1 to 4 after the published "
        "list; items 6 to 10 from memory."
    ),
    "checklist consort": "CONSORT 2010, the flow and its results (Schulz, Altman & Moher 2010)",
    "checklist consort note": (
        "Written for people; read here as plants and plots. Items 13, 16 and 17 after the "
        "published list; what was looked at before the draw from memory."
    ),
    "checklist sampl": "SAMPL, reporting of statistics (Lang & Altman 2013)",
    "checklist sampl note": "Items from memory, numbered here; the guideline has no numbers.",
    "arrive 1a": "Which groups are compared, and with what they are compared",
    "arrive 1b": "What the experimental unit is",
    "arrive 2a": "How many units each group got, and how many in all",
    "arrive 2b": "How the number was decided",
    "arrive 3a": "Rules for leaving out, and whether they were set beforehand",
    "arrive 3b": "What was left out of each group, and why",
    "arrive 3c": "The exact number behind each analysis, by group",
    "arrive 4a": "Whether chance assigned the treatments, and how the draw was made",
    "arrive 4b": "How place and order were kept from confounding the comparison",
    "arrive 5": "Who knew which treatment a plot had, at each stage",
    "arrive 6a": "What was measured as outcome",
    "arrive 6b": "Which outcome the number of units was decided for",
    "arrive 7a": "The statistical methods of each analysis, and the software",
    "arrive 7b": "How assumptions were looked at, and what was done where they fail",
    "arrive 8a": "Species, variety, age and size of the plants",
    "arrive 8b": "Where the plants came from",
    "arrive 9": "What was done to each group, when and where",
    "arrive 10a": "A summary with its spread for each group and outcome",
    "arrive 10b": "Effect sizes with intervals",
    "consort 0": "What was looked at before the draw, and why it was not taken",
    "consort 13a": "How many of each group were assigned and analyzed",
    "consort 13a received": "How many of each group got the treatment as meant",
    "consort 13b": "Losses and exclusions of each group after the draw, with reasons",
    "consort 16": "The denominator of each analysis, by the groups as assigned",
    "consort 17a": "For each outcome, each group's result and the difference with its precision",
    "consort 17b": "For shares, absolute and relative differences both",
    "sampl 1": "The purpose of the analysis, and what was planned beforehand",
    "sampl 2": "The smallest difference that matters",
    "sampl 3": "The unit of analysis and how many of them",
    "sampl 4": "The method of each comparison, with its source",
    "sampl 5": "Whether assumptions hold",
    "sampl 6": "What was done about many comparisons",
    "sampl 7": "How odd values were treated",
    "sampl 8": "What is missing, and why",
    "sampl 9": "Estimates in their own units with intervals",
    "sampl 10": "P values as numbers, with the test's statistic and degrees of freedom",
    "sampl 11": "Planned comparisons told apart from those found later",
    "sampl 12": "The table of the analysis of variance",
    "sampl 13": "For survival: the time followed, the curves and numbers at risk",
    "sampl 14": "How far the findings hang on the rules chosen",
    "sampl 15": "The software and its version",
}
