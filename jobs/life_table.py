"""The life report as text for a terminal."""

from jobs.reliability.report import GroupLife, LifeReport

RATE_HEAD = ("group", "failures", "exposure", "MTBF", "likely between", "best estimate", "likely between", "status")
FIT_HEAD = (
    "group",
    "shape",
    "likely between",
    "scale",
    "likely between",
    "mean life",
    "likely between",
    "a tenth gone by",
    "likely between",
    "p, shape 1",
)


def life_table(report: LifeReport) -> str:
    """Two tables, rates and fitted lives, then warnings, priors and the method."""
    parts = [_table(RATE_HEAD, [_rate_row(group) for group in report.groups])]
    fitted = [_fit_row(group) for group in report.groups if group.status == "fitted"]
    parts += ["Fitted lives (Weibull)\n" + _table(FIT_HEAD, fitted)] if fitted else []
    parts += [_curve(group) for group in report.groups if group.curve]
    told = [f"{_line(group.group)}: {' '.join(group.warnings)}" for group in report.groups if group.warnings]
    parts += ["Warnings\n" + "\n".join(told)] if told else []
    parts.append("\n".join(_prior(prior) for prior in report.priors))
    since = [f"As of {report.as_of}; time before care: {report.before_care}."] if report.as_of else []
    return "\n\n".join([*(part for part in parts if part), "\n".join([*since, f"Method: {report.method}"])])


def _rate_row(group: GroupLife):
    return (
        _line(group.group),
        _short(group.failures),
        _short(group.exposure),
        _short(group.mtbf),
        _between(group.mtbf_low, group.mtbf_high),
        _short(group.shrunk),
        _between(group.shrunk_low, group.shrunk_high),
        group.status,
    )


def _fit_row(group: GroupLife):
    return (
        _line(group.group),
        _short(group.shape),
        _between(group.shape_low, group.shape_high),
        _short(group.scale),
        _between(group.scale_low, group.scale_high),
        _short(group.mean),
        _between(group.mean_low, group.mean_high),
        _short(group.b10),
        _between(group.b10_low, group.b10_high),
        _short(group.lr_p),
    )


def _curve(group: GroupLife):
    rows = [
        (
            _short(point.age),
            _short(point.at_risk),
            _short(point.events),
            _short(point.survival),
            _between(point.survival_low, point.survival_high),
        )
        for point in group.curve or ()
    ]
    return f"{_line(group.group)}: still working\n" + _table(
        ("age", "at risk", "failed", "working", "likely between"), rows
    )


def _prior(prior):
    if prior.shape is None:
        return f"Prior of {prior.family}: none ({prior.source})"
    return f"Prior of {prior.family}: Gamma({_short(prior.shape)}, {_short(prior.rate)}), {prior.source}"


def _line(name):
    """A name on one line, whatever breaks the file put into it."""
    return " ".join(name.split())


def _short(value):
    return "-" if value is None else f"{value:.4g}" if abs(value) < 1000 or abs(value) >= 1e7 else f"{value:.0f}"


def _between(low, high):
    if low is None and high is None:
        return "-"
    if high is None:
        return f"{_short(low)} or more"
    return f"up to {_short(high)}" if low is None else f"{_short(low)} to {_short(high)}"


def _table(head, rows):
    width = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    return "\n".join(
        "  ".join(
            cell.ljust(w) if i == 0 else cell.rjust(w) for i, (cell, w) in enumerate(zip(row, width, strict=True))
        ).rstrip()
        for row in [head, *rows]
    )
