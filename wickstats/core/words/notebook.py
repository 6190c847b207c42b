"""Words of values that show themselves in a notebook. Leans on words.plural."""

from wickstats.core.words.plural import Entry, Plural

ENGLISH: dict[str, Entry] = {
    "notebook supply": "Water that plants need and what they got",
    "notebook needs": "What a reservoir must hold from visit to visit",
    "notebook power": "Before planting",
    "notebook layout": "{type}: {n} plots in walking order",
    "notebook season": "The season's records",
    "notebook tables": "Rows that are used: {list}.",
    "notebook findings": "Queries, and rows that are not used",
    "notebook no findings": "No query, and every row is used.",
    "notebook units": (
        "Open marks are single units; the full mark and bar above them are the mean and its "
        "interval."
    ),
    "notebook more": Plural("{n} more row: see to_frame().", "{n} more rows: see to_frame()."),
    "head limits": "Interval, adjusted",
}
