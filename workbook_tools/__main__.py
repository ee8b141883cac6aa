"""The program `engine-check`, also as `python -m workbook_tools`: the command line in a process of its own.

How Python clears up after a short command costs a third of it, so that is settled here, before anything else is loaded.
"""

import gc
import sys

#: New objects after which Python looks for what is to be thrown away, and how seldom it looks through all of them.
COLLECTED_AFTER = (300_000, 20, 50)


def start() -> None:
    """Run one command; the exit status says how it went."""
    # What a form is made of stays until the end; looking through it every few hundred objects is a sixth of a check.
    gc.set_threshold(*COLLECTED_AFTER)
    from workbook_tools.commands.program import main

    try:
        sys.exit(main())
    finally:
        # The process ends here, and its memory with it: what it holds need not be looked through twice more.
        gc.freeze()


if __name__ == "__main__":
    start()
