"""The public names are listed once and all load."""

import wickstats


def test_every_public_name_loads_and_is_documented() -> None:
    for name in wickstats.__all__:
        thing = getattr(wickstats, name)
        assert thing.__doc__, name


def test_public_names_are_these() -> None:
    assert set(wickstats.__all__) == {
        "AnalysisError",
        "LayoutError",
        "RecordsError",
        "ReportError",
        "TrialError",
        "WickstatsError",
        "analyze",
        "audit",
        "papers",
        "power",
        "randomize",
        "read_layout",
        "read_records",
        "read_trial",
        "rehearse",
        "supply",
        "write_report",
    }
