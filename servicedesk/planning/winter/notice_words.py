"""The first words of the notice about thin ice, and words that no notice may hold."""

import re

FIRST_WORDS = {
    "en": """\
Air keeps a part of this water open in winter. Around it, and above every bubble, the ice is thin. \
The open water and the thin ice move with wind, weather and the running of the system. Nobody can \
see from above where the ice is thin.

Keep everyone off the ice of this water all winter: yourself, children, guests, dogs and vehicles.

After any stop of the system, the place that was open is the most dangerous ice there is. It skins \
over within hours, is weak, and looks like the rest.

Signs stand on the bank. Leave them there until the ice is gone. If one has fallen, tell us, and \
do not walk out to it.

Tell your household, tenants, neighbours, guests and every club that uses the water.

If somebody breaks through: call the emergency number first. Do not go in after them: reach or \
throw.""",
    "es": """\
El aire mantiene abierta en invierno una parte de esta agua. A su alrededor, y encima de cada \
burbuja, el hielo es delgado. El agua abierta y el hielo delgado se mueven con el viento, el \
tiempo y la marcha del sistema. Nadie ve desde arriba dónde el hielo es delgado.

Que nadie pise el hielo de esta agua en todo el invierno: ni usted, ni niños, ni visitas, ni \
perros, ni vehículos.

Después de cualquier parada del sistema, el lugar que estaba abierto es el hielo más peligroso \
que hay. Se cubre en pocas horas, es débil y parece igual que el resto.

Hay letreros en la orilla. Déjelos ahí hasta que el hielo se haya ido. Si uno se cae, avísenos y \
no vaya hasta él por el hielo.

Dígaselo a su familia, inquilinos, vecinos, visitas y a todo club que use el agua.

Si alguien rompe el hielo: llame primero al número de emergencia. No entre detrás: alcance o \
lance algo.""",
}
PROMISES = re.compile(
    r"\bsafe(?:ly|ty)?\b|\bok to walk\b|\bthick enough\b|\bholds\b|\ball clear\b|\bno danger\b"
    r"|\bguarantee\w*|\bharmless\b|\bsound ice\b|\bsegur[oa]s?\b|\ba salvo\b|\bsin peligro\b"
    r"|\bgarantiza\w*",
    re.IGNORECASE,
)


def promise_in(text: str) -> str:
    """The first word of a text that promises something about ice.

    text: any words.
    Returns the word as it stands there, or nothing.
    Source: our own rule.
    """
    found = PROMISES.search(text)
    return found.group() if found else ""
