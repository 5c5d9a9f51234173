"""All checks, in the order of the register of findings.

Every module in ``rules/`` is imported, so that a new one needs no line here.
"""

from importlib import import_module
from pkgutil import iter_modules

from builder.check import rules
from builder.check.hit import RULED, Check
from builder.findings.register import CHECKED


def _checks() -> tuple[Check, ...]:
    for module in iter_modules(rules.__path__):
        import_module(f"{rules.__name__}.{module.name}")
    if missing := [name for name in CHECKED if name not in RULED]:
        raise ImportError(f"no rule finds {', '.join(missing)}")
    return tuple(RULED[name] for name in CHECKED)


CHECKS = _checks()
