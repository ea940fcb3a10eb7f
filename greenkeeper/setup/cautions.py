"""What is said before anything is asked, and before a relay closes.

The whole of it, with its sources, is hardware-notes/safety.md; this is the least of it.
"""

FIRST = (
    "BEFORE ANYTHING ELSE: electricity and water",
    "",
    "Mains voltage kills, and a greenhouse is wet.",
    "- Mains wiring, a new circuit, or anything behind a cover is work for a licensed",
    "  electrician, by the code in force where you live. The code is right, not this page.",
    "- An RCD (GFCI) before everything; a heater fit for running unattended in damp places,",
    "  with its own cut-out and an independent limit thermostat in series.",
    "- No extension leads. Nothing that burns fuel.",
    "- The Pi is not a safety device. Plants that must not die need a frost thermostat of",
    "  their own, which works when the Pi does not.",
    "",
    "The page to read now is hardware-notes/safety.md.",
)

COMMISSION = (
    "BEFORE ANYTHING IS TRIED",
    "- Mains voltage kills. What the sheet calls an electrician's is a licensed electrician's.",
    "- Try with a lamp of low voltage in place of the heater, until a line names the heater.",
    "- Nobody reaches into an open box, and no cover is off while mains are connected.",
)

RELAY = (
    "BEFORE A RELAY IS TRIED",
    "- Take the mains from what it switches: pull the heater's plug, or have its isolator",
    "  switched off and locked. Listen to the relay, and look at its light.",
    "- Nobody reaches into a box that is open. No cover is off while mains are connected.",
    "- A heater that must be seen to work is tried later, by `greenkeeper setup --commission`.",
)
