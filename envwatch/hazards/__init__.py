"""One module a hazard: a published model as array functions, and `assess`, which turns it into findings.

`assess(exposure, painting, start) -> list[Finding]` is the whole interface. `exposure` carries the
history that came before; the findings are about [start, exposure.end). Only `verdict` imports these.
"""
