"""What placing refuses, in one sentence and with nothing touched; and writing that never harms a file."""

from __future__ import annotations

import io
import os
import re
import stat
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

from tests.place_sheet_samples import donor, edited, parts, rich_host, small_host
from tests.test_place_sheet import titles, written
from workbook_tools.errors import UnusableFile
from workbook_tools.package import intake as package_intake
from workbook_tools.package import safe_write
from workbook_tools.package.safe_write import UNFINISHED, lock_beside, replace_file
from workbook_tools.report import place_sheet

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)  # compound file magic, [MS-CFB] 2.2
RELS = b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'


def zipped(**content: str) -> bytes:
    """A zip file of these entries."""
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        for name, text in content.items():
            archive.writestr(name.replace("__", "."), text)
    return data.getvalue()


def binary_book() -> bytes:
    """A package whose workbook part is of the binary kind."""
    return edited(
        small_host("A"),
        {
            "[Content_Types].xml": lambda x: x.replace(
                b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
                b"application/vnd.ms-excel.sheet.binary.macroEnabled.main",
            )
        },
    )


def document() -> bytes:
    """A package whose main part is a text document."""
    return edited(
        small_host("A"),
        {
            "[Content_Types].xml": lambda x: x.replace(
                b"spreadsheetml.sheet.main", b"wordprocessingml.document.main"
            )
        },
    )


def with_doctype() -> bytes:
    """A book whose workbook part declares an entity."""
    return edited(
        small_host("A"),
        {
            "xl/workbook.xml": lambda x: x.replace(
                b"<workbook", b'<!DOCTYPE a [<!ENTITY e SYSTEM "file:///etc/hostname">]><workbook', 1
            )
        },
    )


def twice() -> bytes:
    """A book that holds one part twice."""
    data = io.BytesIO(small_host("A"))
    with zipfile.ZipFile(data, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("xl/workbook.xml", b"<workbook/>")
    return data.getvalue()


def twice_by_another_name() -> bytes:
    """A book that holds one part twice, once with a slash before its name and in capitals."""
    data = io.BytesIO(small_host("A"))
    with zipfile.ZipFile(data, "a") as archive:
        archive.writestr("/XL/workbook.xml", b"<workbook/>")
    return data.getvalue()


def signed() -> bytes:
    """A book with a digital signature's origin at the package's root (ECMA-376 part 2, from memory)."""
    link = (
        b'<Relationship Id="rId70" Type="http://schemas.openxmlformats.org/package/2006/relationships/'
        b'digital-signature/origin" Target="_xmlsignatures/origin.sigs"/></Relationships>'
    )
    return edited(
        small_host("A"),
        {"_xmlsignatures/origin.sigs": b"", "_rels/.rels": lambda x: x.replace(b"</Relationships>", link)},
    )


REFUSED = {
    "empty": (lambda: b"", "x.xlsx", "is empty"),
    "text": (lambda: b"a,b\n1,2\n", "x.csv", r"is a text file \(.csv\)"),
    "text under a wrong name": (lambda: b"a,b\n1,2\n", "x.xlsx", "is not an .xlsx workbook"),
    "old binary": (lambda: OLE, "x.xls", "is an old .xls workbook"),
    "encrypted": (
        lambda: OLE + "EncryptedPackage".encode("utf-16-le"),
        "x.xlsx",
        "is encrypted with a password",
    ),
    "OpenDocument": (
        lambda: zipped(mimetype="application/vnd.oasis.opendocument.spreadsheet", content__xml="<a/>"),
        "x.ods",
        "is an OpenDocument file",
    ),
    "another zip": (lambda: zipped(a="b"), "x.zip", "is a zip file, but not a workbook"),
    "binary book": (binary_book, "x.xlsb", "is a binary workbook"),
    "text document": (document, "x.docx", "holds no workbook"),
    "cut off": (lambda: small_host("A")[:-300], "x.xlsx", "is damaged"),
    "flipped": (lambda: small_host("A").replace(b"PK\x03\x04", b"PK\x03\x05", 3), "x.xlsx", "is damaged"),
    "broken XML": (
        lambda: edited(small_host("A"), {"xl/workbook.xml": b"<workbook"}),
        "x.xlsx",
        "workbook.xml is damaged",
    ),
    "entities": (with_doctype, "x.xlsx", "declares a document type"),
    "a part twice": (twice, "x.xlsx", "holds the same part twice"),
    "a part twice by another name": (twice_by_another_name, "x.xlsx", "holds the same part twice"),
    "bomb": (
        lambda: edited(small_host("A"), {"xl/media/x.bin": bytes(40 * 1024 * 1024)}),
        "x.xlsx",
        "absurd size",
    ),
    "no sheets": (
        lambda: edited(small_host("A"), {"xl/workbook.xml": lambda x: re.sub(rb"<sheet .*?/>", b"", x)}),
        "x.xlsx",
        "has no sheets",
    ),
    "signed": (signed, "x.xlsx", "is digitally signed"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_refused_is_said_in_one_sentence(case: str, tmp_path: Path) -> None:
    """The message names the file and the reason, nothing is written, nothing is left beside it."""
    make, name, reason = REFUSED[case]
    path = written(tmp_path, make(), name)
    before = path.read_bytes()
    with pytest.raises(UnusableFile, match=reason) as caught:
        place_sheet(path, donor(), path)
    assert name in str(caught.value) and "\n" not in str(caught.value) and str(caught.value).endswith(".")
    assert path.read_bytes() == before and os.listdir(tmp_path) == [name]


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """A name that leads nowhere makes no file."""
    with pytest.raises(UnusableFile, match="does not exist"):
        place_sheet(tmp_path / "no.xlsx", donor(), tmp_path / "out.xlsx")
    with pytest.raises(UnusableFile, match="is a folder"):
        place_sheet(tmp_path, donor(), tmp_path / "out.xlsx")
    assert os.listdir(tmp_path) == []


def test_too_much_in_all_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sum of all parts is capped before anything is unpacked."""
    monkeypatch.setattr(package_intake, "MAX_TOTAL_BYTES", 1024 * 1024)
    path = written(tmp_path, edited(rich_host(), {"xl/media/x.bin": bytes(1024 * 1024)}))
    with pytest.raises(UnusableFile, match="unpacks to more than 1 MB"):
        place_sheet(path, donor(), path)


def test_a_signed_book_may_be_copied(tmp_path: Path) -> None:
    """The copy drops nothing, the signature's part included."""
    path, out = written(tmp_path, signed()), tmp_path / "out.xlsx"
    place_sheet(path, donor(), out)
    assert set(parts(path)) <= set(parts(out)) and titles(out) == ["A", "Findings"]


@pytest.mark.parametrize("lock", [".~lock.job.xlsx#", "~$job.xlsx"])
def test_a_book_that_is_open_elsewhere_is_refused(lock: str, tmp_path: Path) -> None:
    """A lock file beside the target stops the writing; a copy to another place is still made."""
    path = written(tmp_path, small_host("A"))
    before = path.read_bytes()
    (tmp_path / lock).write_text("someone")
    assert lock_beside(path) == tmp_path / lock
    with pytest.raises(UnusableFile, match="open in another program"):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == before
    assert place_sheet(path, donor(), tmp_path / "copy.xlsx") == "Findings"


def test_a_lock_of_another_book_does_not_matter(tmp_path: Path) -> None:
    """Only the lock file of this very name counts."""
    path = written(tmp_path, small_host("A"))
    (tmp_path / "~$other.xlsx").write_text("someone")
    assert lock_beside(path) is None


def test_a_lock_beside_the_file_or_beside_its_link_counts(tmp_path: Path) -> None:
    """However the file was opened elsewhere, by its name or by a link, the lock is found from the link."""
    path = written(tmp_path, small_host("A"), "real.xlsx")
    link = tmp_path / "link.xlsx"
    link.symlink_to(path)
    assert lock_beside(link) is None
    for name in (".~lock.real.xlsx#", ".~lock.link.xlsx#"):
        (tmp_path / name).write_text("someone")
        assert lock_beside(link) == tmp_path / name
        (tmp_path / name).unlink()


def test_a_read_only_book_is_refused(tmp_path: Path) -> None:
    """Read-only means so, for an administrator too."""
    path = written(tmp_path, small_host("A"))
    before = path.read_bytes()
    path.chmod(0o444)
    with pytest.raises(UnusableFile, match="is read-only"):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("refused", ["file", "folder"])
def test_no_permission_is_said(refused: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system allows no writing, to the file or in its folder, that is the message."""
    path = written(tmp_path, small_host("A"))
    closed = path if refused == "file" else tmp_path
    monkeypatch.setattr(os, "access", lambda asked, mode: Path(asked) != closed)
    with pytest.raises(UnusableFile, match="no permission to write"):
        place_sheet(path, donor(), path)


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    """A folder is not made on the way."""
    path = written(tmp_path, small_host("A"))
    with pytest.raises(UnusableFile, match="does not exist; create it"):
        place_sheet(path, donor(), tmp_path / "nowhere" / "out.xlsx")
    with pytest.raises(UnusableFile, match="is a folder"):
        place_sheet(path, donor(), tmp_path)


@pytest.mark.parametrize("step", ["replace", "fsync"])
def test_a_failing_disk_leaves_the_old_file(
    step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error of the system at the last moment is said; the old file is whole, the temporary one gone."""
    path = written(tmp_path, small_host("A"))
    before = path.read_bytes()

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(safe_write.os, step, fail)
    with pytest.raises(UnusableFile, match="No space left on device"):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == before and os.listdir(tmp_path) == ["job.xlsx"]


def test_a_save_by_another_program_meanwhile_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the host changed between our reading and our writing, the other's work is not overwritten."""
    path = written(tmp_path, small_host("A"))
    theirs = small_host("A", "B")
    real = safe_write.os.fsync

    def meanwhile(handle: int) -> None:
        path.write_bytes(theirs)
        real(handle)

    monkeypatch.setattr(safe_write.os, "fsync", meanwhile)
    with pytest.raises(UnusableFile, match="saved by another program"):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == theirs


def test_a_part_that_came_out_changed_calls_the_writing_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The written file is read back before it takes the old one's place."""
    path = written(tmp_path, rich_host())
    before = path.read_bytes()
    from workbook_tools.package.parts import Package

    real = Package.to_bytes
    monkeypatch.setattr(
        Package, "to_bytes", lambda book: edited(real(book), {"xl/media/image1.png": b"harmed"})
    )
    with pytest.raises(UnusableFile, match=r"did not come out as meant \(xl/media/image1.png\)"):
        place_sheet(path, donor(), path)
    assert path.read_bytes() == before


def test_a_killed_run_leaves_the_old_file_and_the_next_one_clears_up(tmp_path: Path) -> None:
    """A killed run leaves the old file whole and litter, which the next run clears; a running one's stays."""
    path = written(tmp_path, small_host("A"))
    before = path.read_bytes()
    script = (
        "import sys, time; from workbook_tools.package import safe_write;"
        "safe_write.replace_file(sys.argv[1], b'new', lambda p: (print('there', flush=True), time.sleep(60)))"
    )
    run = subprocess.Popen([sys.executable, "-c", script, str(path)], stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    assert run.stdout.readline() == "there\n"
    replace_file(path, b"meanwhile")
    assert len([name for name in os.listdir(tmp_path) if name.endswith(UNFINISHED)]) == 1
    path.write_bytes(before)
    run.kill()
    run.wait()
    run.stdout.close()
    assert path.read_bytes() == before and len(os.listdir(tmp_path)) == 2
    place_sheet(path, donor(), path)
    assert os.listdir(tmp_path) == ["job.xlsx"] and titles(path) == ["A", "Findings"]


def test_mode_and_link_are_kept(tmp_path: Path) -> None:
    """The new file has the old one's mode; a link goes on leading to it; a new file has the usual mode."""
    real = written(tmp_path, small_host("A"), "real.xlsx")
    real.chmod(0o640)
    link = tmp_path / "link.xlsx"
    link.symlink_to(real)
    place_sheet(link, donor(), link)
    assert link.is_symlink() and titles(real) == ["A", "Findings"]
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    replace_file(tmp_path / "new.bin", b"1")
    (tmp_path / "usual.bin").write_bytes(b"1")
    assert (tmp_path / "new.bin").stat().st_mode == (tmp_path / "usual.bin").stat().st_mode


def test_the_same_input_gives_the_same_bytes_at_any_time(tmp_path: Path) -> None:
    """No clock goes into the file."""
    path, donated = written(tmp_path, rich_host()), donor()
    place_sheet(path, donated, tmp_path / "1.xlsx")
    time.sleep(2.1)  # a zip's clock ticks every two seconds
    place_sheet(path, donated, tmp_path / "2.xlsx")
    assert (tmp_path / "1.xlsx").read_bytes() == (tmp_path / "2.xlsx").read_bytes()


def test_a_lost_part_is_not_replaced_by_ours(tmp_path: Path) -> None:
    """Where a sheet's part is lost, what still leads to it does not lead to the placed sheet."""
    path = written(tmp_path, edited(small_host("A", "B", "C"), {"xl/worksheets/sheet2.xml": None}))
    place_sheet(path, donor(), path)
    assert "xl/worksheets/sheet2.xml" not in parts(path) and "xl/worksheets/sheet4.xml" in parts(path)
