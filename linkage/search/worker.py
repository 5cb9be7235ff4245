"""One worker of a sweep, a process of its own: ``python -m linkage.search.worker FOLDER``.

It is sent the plan (pickled), then the number of one part after another, a line each; it works the part
out, keeps it in the folder and answers with the number, or with what went wrong. It ends when
nobody is left to send anything, so it never outlives the sweep by more than a part.
"""

from __future__ import annotations

import json
import pickle
import signal
import sys
import traceback
from pathlib import Path

from linkage.search.batch import work_out
from linkage.search.unfinished import save


def main() -> None:
    """Work out parts until there are no more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the sweep itself sees to the end
    folder = Path(sys.argv[1])
    plan = pickle.load(sys.stdin.buffer)
    for line in sys.stdin.buffer:
        index = int(line)
        try:
            save(folder, index, work_out(plan, index))
            answer: dict[str, int | str] = {"part": index}
        except OSError as error:
            answer = {"part": index, "errno": error.errno or 0, "says": error.strerror or str(error)}
        except Exception:
            answer = {"part": index, "trace": traceback.format_exc()}
        try:
            print(json.dumps(answer), flush=True)
        except BrokenPipeError:
            break


if __name__ == "__main__":
    main()
