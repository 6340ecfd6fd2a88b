"""Tools and parts that carry somebody's name, and trade words that no other list has."""


def words(text: str) -> frozenset[str]:
    """Return the words of a list that is written as one text."""
    return frozenset(text.split())


EPONYMS = words(
    "allen phillips bowden woodruff stanley stillson jubilee hall zener schottky kelvin "
    "wheatstone belleville welch buna nitrile circlip circlips torx pozidriv "
    "robertson whitworth bourdon pitot venturi graetz scott leblanc faraday cardan oldham "
    "jacobs morse brinell rockwell vickers nyloc nylock molegrip molegrips "
    "ed hooke davis babbitt "
    "prony wankel otto diesel stirling "
    "thevenin norton lenz ohm ampere volt watt joule pascal newton celsius fahrenheit gauss "
    "tesla hertz siemens coulomb weber darlington hartley colpitts hay maxwell nernst "
    "hooter helicoil heli-coil grubscrew molly jacob "
    "seeger tinnerman dzus acme buttress clevis schrader presta camlock storz nomad "
    "gramme rc rp unc unf potier park swinburne ward ilgner kapp dettmar lundell"
)
"""In lower case. Known words: names only where something beside them says so."""

ABROAD = words(
    "regler kondensator spannung ausgang bürste bürsten läufer ständer wicklung lager öl "
    "kraftstoff drehzahl diode sicherung vergaser zündkerze erregung kurbelwelle ventil "
    "régulateur condensateur balais rotor stator tension sortie courroie bougie carburant "
    "démarreur huile roulement joint fusible bobine génératrice "
    "regulador condensador escobillas bobina bujía tensión salida correa aceite rodamiento "
    "fusible generador carburador arrancador válvula motor moteur "
    "kohle kohlen gleichrichter anlasser batterie filtre filtro säkring borstar kolborstar "
    "spänning regulator kondensator gerador escovas tensão óleo rolamento vela candela "
    "condensatore spazzole cinghia olio cuscinetto nyaya betri mafuta injini"
)
"""The trade's commonest words as neighbours from elsewhere write them, in lower case."""
