"""`python -m workbook_tools` is `engine-check`."""

import sys

from workbook_tools.commands.program import main

if __name__ == "__main__":
    sys.exit(main())
