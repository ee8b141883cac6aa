"""The check inside LibreOffice: sources of the extension, of which `build` makes the file to install.

LibreOffice runs `component`, `installed_check` and `open_document` with a Python of its own, which has none of our
packages and may be older than ours: these three use the standard library, LibreOffice's `uno` and each other.
"""
