"""The words that give a person, a place or a number away. Of the language, not the trade."""


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


SURE_TITLES = _words(
    "mr mrs mister messrs herr frau señor señora senhor senhora monsieur madame mme"
)
"""Whatever follows is a name, however ordinary the word."""

TITLES = _words(
    "ms miss dr prof professor sir madam rev reverend pastor father fr sister captain capt sgt "
    "sergeant chief aunt aunty auntie uncle mama mzee bwana baba sheikh imam nurse"
)

CLOSE_KIN = _words(
    "mate friend neighbour neighbor brother sister cousin uncle aunt aunty auntie nephew niece "
    "dad mum mom father mother son daughter wife husband boss boyfriend girlfriend pal buddy "
    "partner grandad grandson"
)
"""What follows is a name even in lower case."""

ROLES = _words(
    "mechanic electrician fitter operator customer client owner driver guard nurse teacher "
    "pastor landlord tenant technician engineer plumber helper apprentice guy bloke lad fella "
    "man woman foreman manager caretaker farmer colleague sparky welder doctor"
)

BEFORE = _words(
    "ask asked tell told phone phoned text texted email emailed rang met named contact visit "
    "attn"
)
"""A person's name is next, in either case."""

BEFORE_TWO = frozenset({
    "spoke to", "speak to", "talk to", "talked to", "spoke with", "ask for", "asked for",
    "belongs to", "belonging to", "owned by", "owner is", "name is", "names is", "care of",
    "lent to", "gave it", "in law", "hey its", "hey it", "hi its", "hi it", "hello its",
    "sold to", "borrowed from", "borrowed off", "bought off", "attention of",
})  # fmt: skip

BEFORE_CAPITAL = _words("ring call called thank thanks cheers regards signed by im from with")
"""A name is next if it has a capital; in lower case these have other uses."""

BEFORE_CAPITAL_TWO = frozenset({"i am", "this is", "it's", "bought from", "got from"})

CALLERS = _words(
    "to and or then please pls just can could will would you i we he she they must so"
)
"""Before "ring" or "call" they show that somebody rings, and no ring is meant."""

CALLED = CALLERS | ROLES | CLOSE_KIN

AFTER = _words(
    "says said reckons reckoned thinks thought swears swore told rang phoned texted emailed "
    "lent sold knows knew wants wanted recommended explained insisted suggested promised "
    "warned owns lives asked"
)
"""A person's name was before."""

AFTER_TWO = frozenset({
    "came round", "came around", "came over", "came out", "came by", "came back", "came to",
    "drove over", "drove out", "who owns", "who lives", "who runs", "who fixes",
})  # fmt: skip

DOES = _words(
    "drove lent brought helped bought tried borrowed diagnosed figured guessed noticed spotted "
    "mentioned offered agreed"
)
"""What people do and things don't: an unknown word before it opens the sentence as a name."""

DOES_TO = _words(
    "pulled checked cleaned swapped replaced fitted rebuilt rewound rewired serviced welded "
    "soldered towed repaired changed adjusted took found opened stripped"
)
DONE_TO = _words("the it his her mine my our a an both all them one everything")
"""Behind one of those they show that somebody did it: "Endplay checked at" is no person."""

DOES_TWO = frozenset({
    "had the", "had one", "had his", "had her", "had mine", "did the", "did it", "did mine",
    "did his", "did her", "did our", "did all", "gave me", "gave us", "got me", "got us",
    "got his", "got her", "took his", "took her", "took mine", "took me", "went over",
    "went round", "next door", "from next", "and i", "and me",
})  # fmt: skip

WHERE = _words("down up over across at from in")
WHERE_PEOPLE_ARE = _words(
    "road lane street track hill valley way garage depot counter store shop mill co-op coop "
    "dealer dealers pub yard farm house village station workshop office clinic school church "
    "market bakery"
)
"""Behind "down the" or "at the" they say of an unknown word before that it is somebody."""


OPENERS = _words(
    "and but as then so what because cos when until if where while since old though"
)
"""Before an unknown word in lower case they leave room for a name."""

OWNED = _words(
    "place house home farm shop set generator genset genny workshop garage boat bakery clinic "
    "wife husband mother father brother sister son daughter kids yard barn shed van truck "
    "cabin hotel lodge bar cafe store school church camp mill dairy mobile number phone"
)

NOT_NAMES = _words(
    "the a an this that these those is are was were be it its he she they we you i my your "
    "his her our their and or but if of in on at to for from with not no yes so as by who "
    "what when where how all any some more than then there here has had have do does did "
    "will would can could about after before over under again up down out off back away near "
    "between since until till still because though while into onto through just very too"
)

ALSO_NAMES = _words(
    "mark jack grace bob bill nick rob rod pat will may penny rose smith brown walker white "
    "green wood baker fisher miller porter hill hall king young cook ward bell gray hunt "
    "hunter knight lane marsh mason potter price rice stone wells west woods sharp shepherd "
    "silver snow summers winter barber bush carpenter fields fox grant little long reed "
    "rivers strong wade waters allen phillips edison newton frank dean ray dale glen cliff "
    "rusty sandy rich gene joy hope faith dawn april june summer victor earl duke chuck drew "
    "lance stanley kelvin scott morse jacobs robertson vickers welch henry davis park ward "
    "jacob miles clay art sue lee ken don max"
)
"""Ordinary words that are also given to people: names only beside a cue, with a capital."""

TIMES = _words(
    "monday tuesday wednesday thursday friday saturday sunday january february march april may "
    "june july august september october november december"
)
"""With a capital, and no surname."""

MONTHS = _words("april may june august")
"""Behind "from" or "by" they are the month, though people have them too."""

ROADS = _words("road rd street lane avenue ave crescent highway hwy boulevard blvd")

MAYBE_ROADS = _words(
    "close drive way court square terrace place st row walk track grove gardens mews parade "
    "trail esplanade"
)
"""Roads only where both they and the words before have capitals."""

PLACES = ROADS | _words(
    "farm ranch creek village town township station school clinic hospital church mosque "
    "market camp mine quarry island lodge hotel estate bridge hill hills valley river lake "
    "bay beach district county province parish harbour harbor homestead mission orphanage "
    "cove ridge college university airport airstrip forest plantation"
)

PLACE_FIRST = _words("lake mount mt port river camp fort village town cape saint")

NOT_STREETS = _words(
    "dirt gravel main access farm narrow back side cross sealed unsealed mile miles km volt "
    "volts amp amps phase wire metre meter metres meters foot feet lane way hours minutes days"
)

PHONE_CUES = _words(
    "call ring phone telephone tel mob mobile cell cellphone whatsapp sms text txt fax ph "
    "dial landline hotline handphone reach fone mobil handy "
    "nipigie piga simu appelez appeler tél télé llama llamar llame llámame ligue ligar zap cel "
    "celular chiama chiamare cellulare telefono teléfono telefone téléphone telefon ruf rufen "
    "anrufen numéro número numero bel denwa telefoon"
)

PHONE_HINTS = _words("on at number no nr contact home office work or")
"""Too weak alone: the number must also be a valid one of the pool's country."""

PHONE_FILLERS = _words(
    "me us him her them back on at is number no nr our my his their the or and please if you "
    "need know want anytime any time direct directly home office work shop line via"
)

PHONE_AFTER = (
    "whatsapp", "call me", "ring me", "text me", "phone me", "is my number", "is my mobile",
    "is my line", "is my phone",
)  # fmt: skip

_ALL = (
    SURE_TITLES | TITLES | CLOSE_KIN | ROLES | BEFORE | AFTER | BEFORE_CAPITAL | PLACES
    | PHONE_CUES | OWNED
)  # fmt: skip


def is_cue(word: str) -> bool:
    """Say whether a word in lower case is one of these, and so no name itself."""
    if word.endswith("s"):
        word = word.removesuffix("'s").removesuffix("’s")
    return word in _ALL
