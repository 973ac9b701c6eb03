"""Print every statistic beside its published value: source, published, ours."""

from __future__ import annotations

import math
from importlib.resources import files

import numpy as np

from station.analysis.statistics.anova import crossed, one_way
from station.judging.verdicts.risks import conforming_probability
from station.quality.gauge.study import gauge_study
from station.quality.statistics.capability import nearest_index, width_index
from station.quality.statistics.chartfactors import d2, d3, mean_range_factors
from station.quality.statistics.charts import (
    individuals_baseline,
    individuals_chart,
    mean_chart,
    range_chart,
    subgroup_baseline,
    subgroups,
    weighted_chart,
)
from station.quality.statistics.globalrisk import global_risk
from tests.judging.conformance import EXAMPLES
from tests.quality.bearings import bearing_risk
from tests.quality.gaugedata import APPRAISERS, IMPEDANCE
from tests.quality.resistivity import AVERAGES, DAYS, DEVIATIONS, readings_like
from tests.quality.statistics.test_charts import FLOW, TWENTY, WIDTH
from tests.studies.tables import table

HANDBOOK = "NIST/SEMATECH e-Handbook"
MONTGOMERY = "Montgomery, Statistical Quality Control"
Row = tuple[str, str, str, str]


def nist_rows() -> list[Row]:
    """Return the certified F ratios of the analysis of variance."""
    rows = []
    folder = files("scipy.stats.tests") / "data" / "nist_anova"
    for name in ("SiRstv", "AtmWtAg", "SmLs03", "SmLs06", "SmLs09"):
        lines = (folder / f"{name}.dat").read_text(encoding="ascii").splitlines()
        data = [line.split() for line in lines[60:] if line.strip()]
        groups = [
            np.array([float(y) for t, y in data if t == which])
            for which in dict.fromkeys(row[0] for row in data)
        ]
        certified = next(x for x in lines if x.startswith("Between")).split()[5]
        rows.append((f"F of {name}", "NIST StRD", certified, f"{one_way(groups).f_ratio:.15g}"))
    return rows


def gauge_rows() -> list[Row]:
    """Return variances with their intervals."""
    found = gauge_study(crossed(IMPEDANCE[..., None]), interaction=True)
    source = "R package gaugerr; Houf and Berman 1988"
    rows = [
        (
            f"variance: {name}",
            source,
            published,
            f"{interval.estimate[0]:.6g} ({interval.lower[0]:.6g} to {interval.upper[0]:.6g})",
        )
        for name, interval, published in (
            ("repeatability", found.repeatability, "0.511111 (0.368158 to 0.757543)"),
            ("gauge", found.gauge, "1.8037 (1.20623 to 27.0172)"),
            ("reproducibility", found.reproducibility, "1.29259 (0.612492 to 26.4986)"),
            ("units", found.part, "48.2926 (22.6945 to 161.639)"),
            ("units / gauge", found.part_over_gauge, "26.7741 (1.69168 to 105.609)"),
        )
    ]
    pooled = gauge_study(crossed(APPRAISERS[..., None]), interaction=False)
    gauge, part = (math.sqrt(float(v.estimate[0])) for v in (pooled.gauge, pooled.part))
    rows.append(("σ of gauge, of units", "AIAG MSA, 4th ed.", "0.302373, 1.042327",
                 f"{gauge:.6f}, {part:.6f}"))  # fmt: skip
    return rows


def chart_rows() -> list[Row]:
    """Return factors and limits of charts."""
    single = individuals_chart(FLOW, individuals_baseline(FLOW))
    weighted = weighted_chart(TWENTY, 50.0, 2.0539, 0.3, 3.0)
    groups = subgroups(WIDTH, 5)
    baseline = subgroup_baseline(groups)
    means, ranges = mean_chart(groups, baseline), range_chart(groups, baseline)
    low, high = mean_range_factors(7)[1:]
    return [
        ("d2 of 5", "ISO 7870-2", "2.326", f"{d2(5):.6f}"),
        ("d3 of 5", "Harter 1960", "0.8640819411", f"{d3(5):.10f}"),
        ("A2 of 5", HANDBOOK, "0.577", f"{mean_range_factors(5)[0]:.4f}"),
        ("D3, D4 of 7", HANDBOOK, "0.076, 1.924", f"{low:.4f}, {high:.4f}"),
        ("single values", f"{HANDBOOK} 6.3.2.2", "45.8159 to 55.8041",
         f"{single.lower[0]:.4f} to {single.upper[0]:.4f}"),
        ("weighted means", f"{HANDBOOK} 6.3.2.4", "47.4115 to 52.5884",
         f"{weighted.lower[-1]:.4f} to {weighted.upper[-1]:.4f}"),
        ("means of 5", f"{MONTGOMERY}, ex. 6.1", "1.31795 to 1.69325",
         f"{means.lower[0]:.5f} to {means.upper[0]:.5f}"),
        ("ranges of 5", f"{MONTGOMERY}, ex. 6.1", "0.68749", f"{ranges.upper[0]:.5f}"),
    ]  # fmt: skip


def capability_rows() -> list[Row]:
    """Return capability indices with their intervals."""
    wide, near = width_index(1.75, 19, 38.0, 62.0), nearest_index(0.0, 1.0, 19, 20, -3.99, 10.0)
    handbook = nearest_index(16.0, 2.0, 99, 100, 8.0, 20.0)
    return [
        ("Cp, n = 20", MONTGOMERY, "2.29 (1.57 to 3.01)",
         f"{wide.value:.3f} ({wide.lower:.3f} to {wide.upper:.3f})"),
        ("Cpk, n = 20", MONTGOMERY, "1.33 (0.88 to 1.78)",
         f"{near.value:.3f} ({near.lower:.3f} to {near.upper:.3f})"),
        ("Cpk", f"{HANDBOOK} 6.1.6", "0.6667", f"{handbook.value:.4f}"),
    ]  # fmt: skip


def risk_rows() -> list[Row]:
    """Return consumer's and producer's risk."""
    source = "Deaver 1993, quoted by the tests of suncal"
    simple = global_risk(0.0, 1.0, 0.25, (-2.0, 2.0), (-2.0, 2.0))
    guarded = global_risk(0.0, 1.0, 0.5, (-2.0, 2.0), (-1.82, 1.82))
    return [
        ("risks, u = 0.25", source, "0.008, 0.015",
         f"{simple.consumer:.4f}, {simple.producer:.4f}"),
        ("risks, u = 0.5, guarded", source, "0.008, 0.066",
         f"{guarded.consumer:.4f}, {guarded.producer:.4f}"),
        *guide_rows(),
    ]  # fmt: skip


def guide_rows() -> list[Row]:
    """Return the worked examples of JCGM 106:2012."""
    rows = []
    for name, (value, u, lower, upper, published, digits) in EXAMPLES.items():
        found = conforming_probability(*(np.array([x]) for x in (value, u, lower, upper)))
        source = "JCGM 106:2012, 7, from memory"
        rows.append((f"conforms: {name}", source, str(published), f"{found[0]:.{digits + 2}f}"))
    plain, guarded = bearing_risk(2.0), bearing_risk(1.67)
    source = "JCGM 106:2012, 9.5.4, quoted by suncal"
    shares = f"{1.0 - plain.conforming:.4f}, {plain.consumer:.5f}, {guarded.consumer:.5f}"
    rows.append(("bearings: not conforming, consumer's risk, guarded", source,
                 "0.042, 0.008, 0.001", shares))  # fmt: skip
    return rows


def nested_rows() -> list[Row]:
    """Return the standard deviations of a nested gauge study, level by level."""
    days = [
        readings_like(float(average), float(deviation))
        for average, deviation in zip(AVERAGES.ravel(), DEVIATIONS.ravel(), strict=True)
    ]
    levels = (
        ("within a day", days, "0.07287 (300)"),
        ("day to day", list(AVERAGES.reshape(-1, DAYS)), "0.03617 (50)"),
        ("run to run", list(AVERAGES.mean(axis=2)), "0.0196 (5)"),
    )
    found = [(name, one_way(groups), published) for name, groups, published in levels]
    return [
        (f"nested: {name} (degrees)", f"{HANDBOOK} 2.6.1", published,
         f"{math.sqrt(level.within_ms):.5f} ({level.within_df})")
        for name, level, published in found
    ]  # fmt: skip


def main() -> None:
    """Print the table."""
    rows = [
        *nist_rows(), *gauge_rows(), *nested_rows(), *chart_rows(), *capability_rows(),
        *risk_rows(),
    ]  # fmt: skip
    print(table("Statistics", ("statistic", "source", "published", "ours"), rows))


if __name__ == "__main__":
    main()
