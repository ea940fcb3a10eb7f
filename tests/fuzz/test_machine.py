"""The fuzz for some seconds. `make fuzz` gives it minutes, and chance of its own."""

from hypothesis import HealthCheck, settings

from tests.fuzz.machine import KeeperMachine

TestKeeper = KeeperMachine.TestCase
TestKeeper.settings = settings(
    max_examples=5,
    stateful_step_count=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)
