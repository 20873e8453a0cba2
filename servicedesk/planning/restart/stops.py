"""Signs at which a ramp is stopped, whoever sees them."""

from servicedesk.planning.restart.readings import Limits

GASPING, SMELL, DARK = "gasping", "smell", "dark_water"
WORDS = {
    GASPING: "Fish gasp at the surface.",
    SMELL: "A strong smell of rotten eggs stays.",
    DARK: "Dark water spreads.",
}
STOP = (
    "Stop now. Hold for 24 to 48 hours, then go on one step back. Nobody lengthens a run to make "
    "up for it."
)


def stop_signs(
    limits: Limits,
    before_mg_l: float | None,
    after_mg_l: float | None,
    seen: tuple[str, ...] = (),
) -> list[str]:
    """Why a ramp has to be stopped, in sentences.

    limits: of the fish in the pond, or the firm's own.
    before_mg_l, after_mg_l: oxygen near the surface, before and after a run [mg/L]; None where
        nobody measured.
    seen: of gasping, smell and dark_water.
    Returns sentences, none where nothing speaks for a stop.
    Source: judgement; the signs are common practice, no source.
    """
    said = [words for sign, words in WORDS.items() if sign in seen]
    for value in (before_mg_l, after_mg_l):
        if value is not None and value < limits.stop_mg_l:
            said.append(f"Oxygen near the surface is {value:.1f} mg/L, below {limits.stop_mg_l:g}.")
            break
    if before_mg_l is not None and after_mg_l is not None:
        fell = before_mg_l - after_mg_l
        if fell > limits.fall_mg_l:
            said.append(
                f"Oxygen near the surface fell by {fell:.1f} mg/L in one run, more than "
                f"{limits.fall_mg_l:g}."
            )
    return said
