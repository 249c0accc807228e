// The component types of the tilt ram, the small circuit that tests of documents share, as text of
// a circuit document. Each test has components and titles of its own.
#pragma once

inline constexpr const char* kTiltTypes = R"({
  "ram": {"ports": ["cap", "rod"],
    "elements": {"piston": {"kind": "seal", "from": "cap", "to": "rod"},
                 "gland": {"kind": "seal", "from": "rod", "to": "outside"}},
    "failure_modes": {
      "piston_leak": {"code": "INL", "leaks": "piston", "prior": [0.9, 0.07, 0.03]},
      "gland_leak": {"code": "ELU", "leaks": "gland", "prior": [0.92, 0.06, 0.02]}},
    "actuator": {"directions": {"retract": ["cap", "rod"]}}},
  "relief": {"ports": ["in", "out"], "cartridge": true, "parameters": ["setting"],
    "elements": {"poppet": {"kind": "relief", "from": "in", "to": "out"}},
    "failure_modes": {
      "seat_leak": {"code": "INL", "title": "seat leaks", "leaks": "poppet",
                    "prior": [0.93, 0.045, 0.025]}}}})";
