"""A keeper in a process of its own, to be killed: python -m tests.broker.publisher PORT."""

import sys
import threading

from tests.broker.house import Keeper


def main() -> None:
    with Keeper(int(sys.argv[1])) as keeper:
        keeper.tick()
        threading.Event().wait()


if __name__ == "__main__":
    main()
