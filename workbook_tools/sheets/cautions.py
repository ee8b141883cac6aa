"""The cautions, written down once: shown at the step on the form, beside findings, and on the Cautions sheet."""

CAUTIONS: dict[str, str] = {
    "running engine": "Engine running: parking brake set, gear in neutral or chocks at the wheels. Keep hands, hair, sleeves, "
    "tools and leads clear of fan, belts and pulleys.",
    "exhaust gas": "Exhaust gas kills without a smell. Run the engine outdoors or with an exhaust extractor working.",
    "hot parts": "Manifold, exhaust, radiator and oil are hot. Never open a hot radiator cap. Wear gloves and eye protection.",
    "high voltage": "Ignition voltage can injure. Hold leads with insulated pliers; keep away if you wear a heart pacemaker.",
    "cranking": "Before cranking with the plugs out: disable the ignition and the fuel supply, lay the leads away from the plug holes, and "
    "stand clear. Fuel mist and oil blow out of open plug holes, and a spark lights them. Nobody near fan and belts.",
    "compressed air": "Leak-down test: gear in neutral, all hands, wrenches and sockets off the crankshaft. Air turns a piston that is not at "
    "top dead centre with force. Open the valve slowly.",
    "fuel": "Fuel vapour lights from any spark. No flame, no smoking, extinguisher at hand, engine cold where lines are opened; catch and "
    "wipe up every drop before the engine is started.",
    "pinched servo hose": "With the servo hose pinched off the brakes are without help: the vehicle stands chocked "
    "and is not moved. Let every hose go again, and try the brake.",
    "spray": "A spray or gas that is held to a hot manifold can catch fire. Little of it, away from sparks and the exhaust, extinguisher at hand.",
    "snap throttle": "Snap the throttle only for a moment, out of gear and with nobody beside the fan; do not overspeed the engine.",
    "lifting": "Engine or vehicle lifted: rated stands on firm ground, never a jack alone.",
    "road test": "Timed pull: on a closed or empty road and within the law, with a second person to read the watch.",
    "battery": "Batteries give off explosive gas. Eye protection; last lead on and first lead off is the earth lead, away from the battery.",
}

DEFER = (
    "The maker's manual comes first wherever it differs from this form. Local codes and rules on emissions, waste and "
    "safety apply, and work that the law leaves to licensed people is left to them."
)
