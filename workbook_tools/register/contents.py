"""What stands in the register: the store's tables brought together, each job once, and what follows from them.

contents_of(store)      jobs, findings, engines, open points, lines of bills and causes
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from workbook_tools.faults.causes import CAUSES
from workbook_tools.guide.fits import NO_COMPLAINT, Experience
from workbook_tools.register.engines import History, histories
from workbook_tools.register.points import open_points
from workbook_tools.register.records import NOT_PROVABLE, NOT_PROVEN, NOT_RETAKEN, PROVEN
from workbook_tools.register.schema import JOB
from workbook_tools.register.store import Store

STRENGTHS = ("confirmed", "indicated", "possible")
KEY = ["shop", "sha256"]


@dataclass(frozen=True)
class Contents:
    """The register as frames, one row a job, finding, open point, line of a bill and cause; `copies` counts further files."""

    jobs: pd.DataFrame
    findings: pd.DataFrame
    files: pd.DataFrame
    engines: list[History]
    points: pd.DataFrame
    lines: pd.DataFrame
    causes: pd.DataFrame
    copies: int
    several_shops: bool
    own_shop: str

    @property
    def currencies(self) -> list[str]:
        """The currency signs of the jobs' bills."""
        return sorted(self.jobs["currency"].unique())


def contents_of(store: Store, every_shop: bool = False) -> Contents:
    """All that the register of this shop (or of every shop in the store) shows."""
    files = store.frame("files", every_shop)
    every_job = with_paths(store.frame("jobs", every_shop), files)
    jobs = one_row_a_job(every_job)
    kept = jobs[KEY]
    findings = _of_jobs(store.frame("findings", every_shop), jobs)
    repairs = _of_jobs(store.frame("repairs", every_shop), jobs)
    engines = histories(jobs, store.frame("readings", every_shop).merge(kept, on=KEY), repairs)
    discrepancies = _of_jobs(store.frame("discrepancies", every_shop), jobs)
    proven = by_complaint(jobs, repairs)
    return Contents(
        jobs=jobs,
        findings=findings,
        files=files,
        engines=engines,
        points=open_points(jobs, every_job, files, discrepancies, repairs, engines),
        lines=store.frame("lines", every_shop).merge(kept, on=KEY),
        causes=causes(findings, repairs).assign(
            by_complaint=lambda rows: [proven.get(cause, "") for cause in rows["cause"]]
        ),
        copies=int((files["status"] == JOB).sum()) - len(jobs),
        several_shops=every_shop and files["shop"].nunique() > 1,
        own_shop=store.shop,
    )


def with_paths(jobs: pd.DataFrame, files: pd.DataFrame) -> pd.DataFrame:
    """Each job content with one of its files: one that is there, of those the one changed last."""
    held = files[files["status"] == JOB].assign(_gone=files["missing_since"].notna())
    held = held.sort_values(["_gone", "modified_ns", "path"], ascending=[True, False, True])
    first = held.drop_duplicates(KEY)[[*KEY, "path", "modified_ns", "missing_since"]]
    return jobs.merge(first, on=KEY, how="inner")


def one_row_a_job(jobs: pd.DataFrame) -> pd.DataFrame:
    """Contents with the same entries are one job; the checked one counts, then the one changed last. Newest job first."""
    by_worth = jobs.assign(_gone=jobs["missing_since"].notna()).sort_values(
        ["_gone", "is_checked", "modified_ns", "path"], ascending=[True, False, False, True]
    )
    alone = by_worth.drop_duplicates(["shop", "typed_digest"])
    dated = alone.assign(_day=pd.to_datetime(alone["date_in"], errors="coerce"))
    ordered = dated.sort_values(
        ["_day", "job_number", "path"], ascending=[False, False, True], na_position="last"
    )
    return ordered.drop(columns=["_day", "_gone"]).reset_index(drop=True)


def _of_jobs(parts: pd.DataFrame, jobs: pd.DataFrame) -> pd.DataFrame:
    """The parts of the jobs shown, in the order of the jobs, with what tells each job."""
    told = jobs[
        [*KEY, "job_number", "date_in", "date_out", "released_on", "customer_name", "vehicle", "path"]
    ]
    order = told.assign(_order=range(len(told)))
    return (
        parts.merge(order, on=KEY)
        .sort_values(["_order", "place"])
        .drop(columns="_order")
        .reset_index(drop=True)
    )


def causes(findings: pd.DataFrame, repairs: pd.DataFrame) -> pd.DataFrame:
    """How often each cause was found, how surely, and how its repairs stand; the commonest first."""
    found = _counted(findings, "strength", STRENGTHS)
    repaired = _counted(repairs, "proof", (PROVEN, NOT_PROVEN, NOT_RETAKEN, NOT_PROVABLE))
    together = found.join(repaired, how="outer").fillna(0).astype(int)
    together["found"] = together[list(STRENGTHS)].sum(axis=1)
    together["repaired"] = together[[PROVEN, NOT_PROVEN, NOT_RETAKEN, NOT_PROVABLE]].sum(axis=1)
    together["system"] = [CAUSES[cause].system if cause in CAUSES else "" for cause in together.index]
    together["named"] = [CAUSES[cause].shown_as if cause in CAUSES else cause for cause in together.index]
    together = together.rename_axis("cause").reset_index()
    return together.sort_values(["found", "repaired", "named"], ascending=[False, False, True]).reset_index(
        drop=True
    )


def _counted(rows: pd.DataFrame, by: str, columns: tuple[str, ...]) -> pd.DataFrame:
    """Jobs by cause, a column for each word of `by`; a cause counts once a job, by its surest word."""
    place = {word: number for number, word in enumerate(columns)}
    once = rows.assign(_sure=rows[by].map(place)).sort_values("_sure").drop_duplicates([*KEY, "cause"])
    if once.empty:
        return pd.DataFrame(columns=list(columns), dtype=int)
    return pd.crosstab(once["cause"], once[by]).reindex(columns=list(columns), fill_value=0)


def proven_repairs(jobs: pd.DataFrame, repairs: pd.DataFrame) -> Experience:
    """Proven repairs by complaint and cause; a job without a complaint, or with another one, counts for no complaint alone."""
    told = repairs[(repairs["proof"] == PROVEN) & repairs["cause"].isin(list(CAUSES))]
    once = told.merge(jobs[[*KEY, "complaint"]], on=KEY).drop_duplicates([*KEY, "cause"])
    counted: dict[str, dict[str, int]] = {NO_COMPLAINT: {}}
    for complaint, cause in zip(once["complaint"], once["cause"], strict=True):
        for heard in dict.fromkeys((NO_COMPLAINT, str(complaint))):
            of_it = counted.setdefault(heard, {})
            of_it[cause] = of_it.get(cause, 0) + 1
    return Experience(len(once.drop_duplicates(KEY)), counted)


def by_complaint(jobs: pd.DataFrame, repairs: pd.DataFrame) -> dict[str, str]:
    """Each cause's proven repairs by complaint, in words: `lacks power 3, misfires 1`."""
    found: dict[str, list[str]] = {}
    for complaint, causes in proven_repairs(jobs, repairs).repaired.items():
        if complaint == NO_COMPLAINT:
            continue
        for cause, count in causes.items():
            found.setdefault(cause, []).append(f"{complaint or 'no complaint'} {count}")
    return {cause: ", ".join(sorted(parts)) for cause, parts in found.items()}
