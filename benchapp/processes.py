"""What the processes of a server share: which data folder they serve, and that none outlives its parent."""

import multiprocessing
import os

DATA = "BENCHAPP_DATA"
ADDRESS = "BENCHAPP_ADDRESS"
GRACE_S = 10  # for requests that run while a process ends; then it is ended hard


def end_with_parent() -> None:
    """Wait for the parent's end, and end this process then.

    A hard kill of the parent must not leave this process behind with the data folder locked or a port taken.
    """
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(3)
