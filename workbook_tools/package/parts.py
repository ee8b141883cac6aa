"""A workbook as what it is on the disk: a zip of parts, tied together by relationships.

    [Content_Types].xml      says of every part what it is
    _rels/.rels              the root: leads to the workbook part, wherever it lies
    xl/workbook.xml          the index of the sheets
    xl/_rels/workbook.xml.rels

A part that nobody asks to change is written back with the very bytes it had. Strict workbooks are shown with
the usual (transitional) namespaces and get their own back when written.
"""

from __future__ import annotations

import html
import io
import posixpath
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeVar
from urllib.parse import unquote

from lxml import etree

from workbook_tools.errors import UnusableFile
from workbook_tools.package.dialects import is_strict, strict, transitional
from workbook_tools.package.elements import elements_until, parsed
from workbook_tools.package.intake import (
    CONTENT_TYPES,
    content_of,
    count_elements,
    has_endless_tag,
    opened,
    too_much,
)
from workbook_tools.package.packed import USUAL_PACKING, copy_packed, packed_in

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE_RELS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_RELS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
RELS_TYPE = "application/vnd.openxmlformats-package.relationships+xml"
ROOT = ""
XML_ENDINGS = (".xml", ".rels", ".vml")
NEW_PART_DATE = (1980, 1, 1, 0, 0, 0)
#: What may be held as trees at one time: bytes of XML, and elements; a form of 16 cylinders has 0.8 MB and 18,000.
MAX_TREE_BYTES, MAX_TREE_ELEMENTS = 16 * 1024 * 1024, 500_000

#: How hard what was changed is packed, of 1 to 9: half the time of the usual 6, for a fiftieth more.
PACKED_AT = 4
Known = TypeVar("Known")


def q(name: str) -> str:
    """A tag of the spreadsheet namespace."""
    return f"{{{MAIN}}}{name}"


def is_on(value: str | None) -> bool:
    """What a boolean attribute says; absent is off."""
    return value in ("1", "true", "on")


@dataclass(frozen=True)
class Relation:
    """One relationship: `target` is a part name, or the address as written where it leads to no part."""

    id: str
    type: str
    target: str
    external: bool

    @property
    def kind(self) -> str:
        return self.type.rsplit("/", 1)[-1]

    @property
    def to_part(self) -> bool:
        """Whether it leads to a part: not out of the package, not to a place in the same part."""
        return not self.external and not self.target.startswith("#")


class Package:
    """The parts of one workbook in memory.

    Raises UnusableFile when `data` is no package, or a part of it is damaged; `label` names the file in messages. `data` stays
    as it was read. Where only `some` parts are wanted, each is unpacked when it is asked for, and the others stay unseen.
    """

    def __init__(self, data: bytes, label: str, *, some: bool = False) -> None:
        self.label = label
        self.data = data
        self._archive = opened(data, label)
        self._infos = {
            info.filename.replace("\\", "/").lstrip("/"): info for info in self._archive.infolist()
        }
        #: The content of each part, None where it was not unpacked yet.
        self._parts: dict[str, bytes | None] = dict.fromkeys(self._infos)
        for name in () if some else self._infos:
            self.bytes_of(name)
        #: The parts that were in the file.
        self.names_read = frozenset(self._parts)
        self._by_folded_name = {name.lower(): name for name in self._parts}
        self._trees: dict[str, etree._Element] = {}
        self._overrides: dict[str, etree._Element] | None = None
        self._tree_bytes = self._tree_elements = 0
        self._remembered: dict[str, dict[str, Any]] = {}
        self._relations_of: dict[str, tuple[Relation, ...]] = {}
        self._written: dict[str, bytes] = {}
        self.changed: set[str] = set()
        self.removed: set[str] = set()
        self.strict = False
        self.workbook = self._find_workbook()
        self.strict = is_strict(self.bytes_of(self.workbook))

    def _find_workbook(self) -> str:
        part = self.first_related(ROOT, "officeDocument")
        kind = self.content_type(part) if part else ""
        if kind.startswith("application/vnd.ms-excel.sheet.binary"):
            raise UnusableFile(f"{self.label} is a binary workbook (.xlsb); open it and save it as .xlsx.")
        if part is None or not kind.endswith("main+xml") or not ("sheet" in kind or "excel" in kind):
            raise UnusableFile(f"{self.label} holds no workbook; give an .xlsx file.")
        return part

    # ---- parts

    def names(self) -> list[str]:
        return list(self._parts)

    def find(self, name: str) -> str | None:
        """The part as the zip spells it; part names know no difference between small and capital letters."""
        return self._by_folded_name.get(name.lower()) or self._by_folded_name.get(unquote(name).lower())

    def bytes_of(self, name: str) -> bytes:
        """The content of a part. Raises UnusableFile where it is damaged."""
        content = self._parts[name]
        if content is None:
            content = self._parts[name] = content_of(self._archive, self._infos[name], self.label)
        return content

    def xml(self, name: str) -> etree._Element:
        """The root element of a part, to be looked at; call `touch` after changing it."""
        if name not in self._trees:
            self._trees[name] = self._parse(name)
        return self._trees[name]

    def elements_until(self, name: str, tag: str, last: str) -> Iterator[etree._Element]:
        """Elements of a tag in a part of any size, each for one moment only; none behind the end of `last`, a child of the root.

        Raises UnusableFile where the part is damaged before that, or holds far too much.
        """
        self.weigh(name)
        content = self._usual(name)
        with self._sound(name):
            first = True
            for element in elements_until(content, tag, last):
                if first:
                    self._refuse_doctype(name, element)
                    first = False
                if element.tag == last:
                    return
                yield element

    def weigh(self, name: str) -> int:
        """How many elements a part has. Raises UnusableFile where one has so many attributes that it can't be parsed in time."""

        def weight() -> int:
            content = self.bytes_of(name)
            if has_endless_tag(content):
                raise too_much(self.label, name)
            return count_elements(content)

        return self.remembered(name, "weight", weight)

    def touch(self, name: str) -> None:
        self.changed.add(name)
        self._remembered.pop(name, None)

    def remembered(self, part: str, what: str, work_out: Callable[[], Known]) -> Known:
        """What was worked out from a part alone, under that name, since it was changed last; else it is worked out now."""
        known = self._remembered.setdefault(part, {})
        if what not in known:
            known[what] = work_out()
        return known[what]

    def add(self, name: str, content: bytes | etree._Element, content_type: str) -> None:
        """Add a part and list it in the content types."""
        self._parts[name] = content if isinstance(content, bytes) else b""
        if not isinstance(content, bytes):
            self._trees[name] = content
        self._by_folded_name[name.lower()] = name
        self._relations_of.clear()
        self.touch(name)
        types = self.xml(CONTENT_TYPES)
        extension = name.rsplit(".", 1)[-1].lower()
        defaults = {
            e.get("Extension", "").lower(): e.get("ContentType") for e in types.iter(f"{{{TYPES}}}Default")
        }
        if defaults.get(extension) != content_type:
            etree.SubElement(types, f"{{{TYPES}}}Override", PartName=f"/{name}", ContentType=content_type)
            self.touch(CONTENT_TYPES)
            self._overrides = None

    def remove(self, name: str) -> None:
        """Remove a part, its relationships and its content type."""
        self._relations_of.clear()
        for gone in (name, _rels_name(name)):
            found = self.find(gone)
            if found is not None:
                del self._parts[found], self._by_folded_name[found.lower()]
                self._trees.pop(found, None)
                self._infos.pop(found, None)
                self.changed.discard(found)
                self.removed.add(found)
                self._remembered.pop(found, None)
            override = self._override(gone)
            if override is not None:
                override.getparent().remove(override)
                self.touch(CONTENT_TYPES)
                self._overrides = None

    def free_name(self, folder: str, stem: str, extension: str) -> str:
        """The first part name `folder/stemN.extension` that is not taken, nor waited for where a part was lost."""
        number, pointed_to = 1, self._pointed_to()
        while (
            self.find(name := posixpath.join(folder, f"{stem}{number}{extension}"))
            or self.rels_of(name)
            or posixpath.basename(name).lower() in pointed_to
        ):
            number += 1
        return name

    def _pointed_to(self) -> str:
        """Everything that anything in the package points to, in small letters; read as text, for it may be broken XML."""
        lists = [name for name in self._parts if name.lower().endswith(".rels") or name == CONTENT_TYPES]
        texts = (self.written_bytes(name).replace(b"\0", b"").decode("utf-8", "replace") for name in lists)
        return unquote(html.unescape("\n".join(texts))).lower()

    def content_type(self, name: str) -> str:
        override = self._override(name)
        if override is not None:
            return override.get("ContentType", "")
        extension = name.rsplit(".", 1)[-1].lower()
        for default in self.xml(CONTENT_TYPES).iter(f"{{{TYPES}}}Default"):
            if default.get("Extension", "").lower() == extension:
                return default.get("ContentType", "")
        return ""

    def _override(self, name: str) -> etree._Element | None:
        """The entry of a part in the content types, None where only its extension speaks for it."""
        if self._overrides is None:
            every = self.xml(CONTENT_TYPES).iter(f"{{{TYPES}}}Override")
            self._overrides = {unquote(e.get("PartName", "")).lower(): e for e in every}
        return self._overrides.get(unquote(f"/{name}").lower())

    # ---- relationships

    def rels_of(self, source: str) -> str | None:
        """The part that holds the relationships of `source`, None where it has none."""
        return self.find(_rels_name(source))

    def relations(self, source: str) -> list[Relation]:
        """What a part (or the package: ROOT) leads to."""
        # Which part a target is depends on all names of parts: forgotten wherever one comes, goes, or is pointed to anew.
        if source not in self._relations_of:
            self._relations_of[source] = tuple(self._relations(source))
        return [*self._relations_of[source]]

    def _relations(self, source: str) -> list[Relation]:
        rels = self.rels_of(source)
        if rels is None:
            return []
        found = []
        for element in self.xml(rels).iter(f"{{{PACKAGE_RELS}}}Relationship"):
            target, kind = element.get("Target", ""), transitional(element.get("Type", ""))
            external = element.get("TargetMode") == "External"
            if not external and not target.startswith("#"):
                joined = posixpath.normpath(posixpath.join("/", posixpath.dirname(source), target)).lstrip(
                    "/"
                )
                target = self.find(joined) or joined
            found.append(Relation(element.get("Id", ""), kind, target, external))
        return found

    def first_related(self, source: str, kind: str) -> str | None:
        """The first existing part that `source` leads to by a relationship of this kind."""
        for relation in self.relations(source):
            if relation.kind == kind and relation.to_part and relation.target in self._parts:
                return relation.target
        return None

    def of_workbook(self, kind: str) -> str | None:
        """The workbook's part of a kind; where no relationship leads to it, the one that is of that kind by its type."""
        of_kind = (name for name in self._parts if self.content_type(name).endswith(f".{kind}+xml"))
        return self.first_related(self.workbook, kind) or next(of_kind, None)

    def relate(
        self, source: str, kind: str, target: str, external: bool = False, id: str | None = None
    ) -> str:
        """Add a relationship of the full type `kind`; returns its id, the first free one unless given."""
        rels = self.rels_of(source)
        if rels is None:
            rels = _rels_name(source)
            self.add(
                rels, etree.Element(f"{{{PACKAGE_RELS}}}Relationships", nsmap={None: PACKAGE_RELS}), RELS_TYPE
            )
        taken, number = {relation.id for relation in self.relations(source)}, 1
        while id is None or (id in taken):
            id, number = f"rId{number}", number + 1
        if not external and not target.startswith("#"):
            target = posixpath.relpath("/" + target, posixpath.join("/", posixpath.dirname(source)))
        element = etree.SubElement(
            self.xml(rels), f"{{{PACKAGE_RELS}}}Relationship", Id=id, Type=kind, Target=target
        )
        if external:
            element.set("TargetMode", "External")
        self._relations_of.clear()
        self.touch(rels)
        return id

    def unrelate(self, source: str, id: str) -> None:
        """Take a relationship away and, with it, every part that only it led to."""
        before = self._reachable()
        rels = self.rels_of(source) or ""
        for element in list(self.xml(rels)):
            if element.get("Id") == id:
                self.xml(rels).remove(element)
                self._relations_of.clear()
                self.touch(rels)
        for orphan in before - self._reachable():
            self.remove(orphan)

    def _reachable(self) -> set[str]:
        found, waiting = set(), [ROOT]
        while waiting:
            for relation in self.relations(waiting.pop()):
                if relation.to_part and relation.target in self._parts and relation.target not in found:
                    found.add(relation.target)
                    waiting.append(relation.target)
        return found

    # ---- bytes in and out

    def _parse(self, name: str) -> etree._Element:
        content = self._usual(name)
        self._tree_bytes += len(content)
        self._tree_elements += self.weigh(name)
        if self._tree_bytes > MAX_TREE_BYTES or self._tree_elements > MAX_TREE_ELEMENTS:
            raise too_much(self.label, name)
        with self._sound(name):
            root = parsed(content)
        self._refuse_doctype(name, root)
        return root

    def _usual(self, name: str) -> bytes:
        """The content of a part in the usual namespaces."""
        content = self.bytes_of(name)
        if not self.strict:
            return content
        return transitional(content.decode("utf-8", "surrogateescape")).encode("utf-8", "surrogateescape")

    @contextmanager
    def _sound(self, name: str) -> Iterator[None]:
        """Say of XML that can't be parsed that its part is damaged."""
        try:
            yield
        except (etree.XMLSyntaxError, ValueError) as error:
            raise UnusableFile(f"{self.label}: its part {name} is damaged; take it from a backup.") from error

    def _refuse_doctype(self, name: str, element: etree._Element) -> None:
        if element.getroottree().docinfo.doctype:
            raise UnusableFile(
                f"{self.label}: its part {name} declares a document type, which no workbook needs; save it anew in its program."
            )

    def to_bytes(self) -> bytes:
        """The package as a zip file: untouched parts as they were, in their order, then the new ones."""
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=PACKED_AT) as archive:
            for name in self._parts:
                if self.is_untouched(name):
                    copy_packed(archive, self._entry(name), self.data, self._infos[name])
                else:
                    self._written[name] = self.written_bytes(name)
                    archive.writestr(self._entry(name), self._written[name])
        return buffer.getvalue()

    def as_written(self, name: str) -> bytes | None:
        """The content of a changed part as `to_bytes` wrote it last, None where it did not."""
        return self._written.get(name)

    def is_untouched(self, name: str) -> bool:
        """Whether a part goes over as it was packed: nobody changed it, and it was packed in one of the usual ways."""
        old = self._infos.get(name)
        return old is not None and name not in self.changed and old.compress_type in USUAL_PACKING

    def packed(self, name: str) -> memoryview:
        """An untouched part as it was packed in the file that was read."""
        return packed_in(self.data, self._infos[name])

    def entry_read(self, name: str) -> zipfile.ZipInfo:
        """The entry of an untouched part in the file that was read."""
        return self._infos[name]

    def entry_name(self, name: str) -> str:
        """The name of a part's entry in the zip, as it is spelled there."""
        return self._infos[name].filename if name in self._infos else name

    def usual_twin(self) -> bytes:
        """A zip of the same parts, those of XML in the usual namespaces and the others empty: for reading cells alone."""
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for name in self._parts:
                archive.writestr(
                    self._entry(name), self._usual(name) if name.lower().endswith(XML_ENDINGS) else b""
                )
        return buffer.getvalue()

    def written_bytes(self, name: str) -> bytes:
        """The content of a part as `to_bytes` writes it."""
        if name not in self.changed or name not in self._trees:
            return self.bytes_of(name)
        text = etree.tostring(self._trees[name], xml_declaration=True, encoding="UTF-8", standalone=True)
        return strict(text.decode()).encode() if self.strict else text

    def _entry(self, name: str) -> zipfile.ZipInfo:
        old = self._infos.get(name)
        entry = zipfile.ZipInfo(old.filename if old else name, old.date_time if old else NEW_PART_DATE)
        stored = old is not None and old.compress_type == zipfile.ZIP_STORED
        entry.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
        if old is not None:
            entry.external_attr, entry.create_system, entry.comment = (
                old.external_attr,
                old.create_system,
                old.comment,
            )
        return entry


def _rels_name(source: str) -> str:
    folder, name = posixpath.split(source)
    return posixpath.join(folder, "_rels", f"{name}.rels")


def relative_folder(package: Package, part: str) -> str:
    """The folder of a part as seen from its workbook part, for a twin of it in another package."""
    folder = posixpath.relpath("/" + posixpath.dirname(part), "/" + posixpath.dirname(package.workbook))
    return posixpath.basename(folder) if folder.startswith("..") else folder


def stem_of(part: str) -> tuple[str, str]:
    """The name of a part without its number, and its extension."""
    name, extension = posixpath.splitext(posixpath.basename(part))
    return re.sub(r"\d+$", "", name) or "part", extension
