"""Whether units may go out for a span of days: facts from the records, judged by calc.readiness.

assess_unit(shop, tag, first, last, kind, *, at_act=False) -> fleetbench.calc.readiness.Assessment
assess_all(shop, first, last, kind) -> dict[str, Assessment]    by tag
"""
