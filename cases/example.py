"""What a thicker bar would buy on the pump bracket, worked out in Python.

Run it from anywhere: python cases/example.py
"""

from pathlib import Path

from barwright.analysis import analyse, evaluated, parse_quantity, read_case, show, with_block

case = with_block(read_case(Path(__file__).with_name("pump_bracket.yaml")))
outcome = analyse(case)
print(f"{case.title}: {'within limits' if outcome.within_limits else 'outside limits'}")
for finding in outcome.findings:
    if not finding.ok:
        print(f"  missed: {finding.what}")

print("bar      bore off by spring   first mode   gain margin")
for size in ("28 mm", "30 mm"):
    bar = case.bar.model_copy(update={"diameter": parse_quantity(size, "length")})
    found = evaluated(with_block(case.model_copy(update={"bar": bar})))
    print(
        f"{size}    {show(found.size_error.likely, 'length', 'mm'):18}   "
        f"{found.first_mode.likely:.0f} Hz       {found.chatter.margin['likely']:.2g}"
    )
