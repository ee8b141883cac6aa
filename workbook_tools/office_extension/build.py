"""Making the extension for LibreOffice: our sources of it, and how this installation is started.

write_extension("engine-check.oxt")     a file to be opened with LibreOffice
"""

from __future__ import annotations

import io
import json
import site
import sys
import sysconfig
import zipfile
from pathlib import Path

from lxml import etree

from workbook_tools import __version__
from workbook_tools.errors import BadRequest
from workbook_tools.package.parts import NEW_PART_DATE
from workbook_tools.package.safe_write import replace_file

HERE = Path(__file__).parent
SUFFIX, USUAL_NAME = ".oxt", "engine-check.oxt"
IDENTIFIER = "engine-check.office"
DESCRIPTION = "description.xml"
DESCRIPTION_SPACE = "http://openoffice.org/extensions/description/2006"
#: Modules beside the component, on the path of LibreOffice's Python.
MODULES = "pythonpath/engine_check_office"
#: What the file holds, and which source it is made of.
PARTS = {
    "META-INF/manifest.xml": "manifest.xml",
    "addons.xcu": "addons.xcu",
    "component.py": "component.py",
    "protocol_handler.xcu": "protocol_handler.xcu",
    f"{MODULES}/__init__.py": "__init__.py",
    f"{MODULES}/installed_check.py": "installed_check.py",
    f"{MODULES}/open_document.py": "open_document.py",
}


def write_extension(out: str | Path) -> Path:
    """Write the extension to an .oxt file, or into a folder under its usual name; return the file.

    Raises BadRequest for another kind of name, and where another file has that name.
    """
    path = Path(out)
    if path.is_dir():
        path = path / USUAL_NAME
    if path.suffix.lower() != SUFFIX:
        raise BadRequest(f"{path}: an extension is an {SUFFIX} file; give a name that ends so, or a folder.")
    if path.exists() and not _is_ours(path):
        raise BadRequest(f"{path} is there already and is not this extension; give another name.")
    replace_file(path, extension_bytes())
    return path


def extension_bytes() -> bytes:
    """The extension as this installation makes it: the same bytes each time."""
    parts = {name: (HERE / source).read_bytes() for name, source in PARTS.items()}
    parts[DESCRIPTION] = _description()
    parts[f"{MODULES}/installed.json"] = json.dumps(how_to_start(), indent=1).encode()
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w") as package:
        for name in sorted(parts):
            entry = zipfile.ZipInfo(name, NEW_PART_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, parts[name])
    return memory.getvalue()


def how_to_start() -> dict[str, object]:
    """The command that starts this installation from anywhere, and the folder to look in where it is not an installed one."""
    home = HERE.parents[1]
    installed = {Path(folder).resolve() for folder in _package_folders()}
    # -P: no module of the folder that it is started in is taken for one of ours.
    command = [str(Path(sys.executable).absolute()), "-P", "-m", "workbook_tools"]
    return {"command": command, "python_path": "" if home.resolve() in installed else str(home.absolute())}


def _package_folders() -> list[str]:
    return [
        sysconfig.get_path("purelib"),
        sysconfig.get_path("platlib"),
        *site.getsitepackages(),
        site.getusersitepackages(),
    ]


def _description() -> bytes:
    """The extension's description, with the version of the program."""
    root = etree.fromstring((HERE / DESCRIPTION).read_bytes())
    root.find(f"{{{DESCRIPTION_SPACE}}}version").set("value", __version__)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def _is_ours(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as package:
            return f'"{IDENTIFIER}"'.encode() in package.read(DESCRIPTION)
    except (OSError, KeyError, zipfile.BadZipFile):
        return False
