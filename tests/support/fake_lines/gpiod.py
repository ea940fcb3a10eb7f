"""gpiod for a process with this folder on its PYTHONPATH: see tests/support/fakekernel.py."""

from tests.support import fakekernel

_module = fakekernel.gpiod_on(fakekernel.for_this_process())
globals().update({k: v for k, v in vars(_module).items() if not k.startswith("__")})
