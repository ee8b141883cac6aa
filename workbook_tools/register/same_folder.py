"""Is this still the folder that the register was made of?

A register pointed at another folder would mix two shops' jobs, and one whose drive is not there today would call all its jobs
missing; it asks first.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path, PurePosixPath

from workbook_tools.checking.job_files import Folder
from workbook_tools.errors import BadRequest
from workbook_tools.register.schema import JOB
from workbook_tools.register.store import FileFacts, Store


def refuse_another_folder(store: Store, folder: Folder, out: Path) -> None:
    """Raise BadRequest where the jobs that the store knows are not those of this folder.

    In the folder of the last run at least one of them must be there, as it was or changed. Elsewhere (a folder that was
    moved) at least half must be, under the same file name and of the same size.
    """
    files = store.known_files().values()
    known = [file for file in files if file.status == JOB and file.missing_since is None]
    here = {folder.name_of(path): path for path in folder.workbooks}
    before, now = store.folder(), folder.label
    if not known:
        return
    if before in ("", now):
        there, enough = sum(file.path in here for file in known), 1
    else:
        there, enough = _of_same_size(known, here.values()), (len(known) + 1) // 2
    if there >= enough:
        return
    held = "its one job" if len(known) == 1 else f"its {len(known)} jobs"
    found = "none" if there == 0 else f"only {there}"
    made_of = f", made of the folder {before}," if before not in ("", now) else ""
    raise BadRequest(
        f"Of the register {out}{made_of} {found} of {held} can be found below {now}: give the folder that holds them, or name "
        "another register for this one. Where it is this shop's all the same, --keep-missing keeps the others, --forget-missing drops them."
    )


def _of_same_size(known: Collection[FileFacts], paths: Collection[Path]) -> int:
    sizes = {(path.name, _size(path)) for path in paths}
    return sum((PurePosixPath(file.path).name, file.size) in sizes for file in known)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return -1
