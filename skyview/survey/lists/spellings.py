"""The spellings of column headers that lists use, by quantity, and the units that fit each.

A spelling is squashed: small letters and digits without blanks, accents or units. The first of a
quantity is its plainest name, and wins where several columns claim the same quantity. A height
names its subject and what it is above; one that names no datum, and a bare channel or power, are
quantities of their own (``_unstated``), for the columns beside them to settle.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import product
from typing import Literal

Kind = Literal["stations", "landmarks", "scans"]


def _words(text: str) -> list[str]:
    return text.split()


METRES = frozenset(_words("m metre metres meter meters mtr mtrs"))
FEET = frozenset(("ft", "feet", "foot", "'"))
POWER_UNITS = frozenset(_words("kw w mw dbk dbkw dbw dbm"))
STRENGTH_UNITS = frozenset(_words("dbm dbuv dbμv dbmv percent pct bars bar"))
FREQUENCY_UNITS = frozenset(_words("ghz mhz khz hz"))
HEMISPHERES = frozenset(_words("n s e w north south east west"))
_DEGREES = frozenset(_words("deg degree degrees dd ° decimaldegrees decimal wgs84"))

SHORT_WORDS = {"ht": "height", "hgt": "height", "ant": "antenna", "elev": "elevation"}
"""Words that headers shorten, where they stand as words of their own."""

_AMSL = _words("amsl asl msl abovesealevel abovemeansealevel ahd aod")
_AGL = _words("agl aboveground abovegroundlevel")
_HEIGHT = _words(
    "height antennaheight antenna heightofantenna aerial aerialheight radiationcentre "
    "radiationcenter rcheight centreofradiation centerofradiation antennacentre antennacenter "
    "txheight transmitterheight mastheight txantenna txantennaheight"
)
_ANTENNA = [*_HEIGHT, "tx", "rc", ""]
_GROUND = _words(
    "ground groundheight groundlevel groundelevation groundaltitude terrain terrainheight site "
    "siteheight siteelevation sitealtitude siteground terrainelevation baseelevation "
    "basealtitude baseheight elevationofsite"
)
_TOP = _words("top topheight height tip peak summit overallheight structureheight mastheight")
_HIGHEST = [*_TOP, "topelevation", "topaltitude", "structure", "elevation", "altitude", ""]
_ELEVATION = _words("elevation altitude alt")


def _above(subjects: Iterable[str], data: Iterable[str]) -> list[str]:
    """Each subject before and behind what its height is above."""
    pairs = [(subject, datum) for subject, datum in product(subjects, data)]
    return [s + d for s, d in pairs] + [d + s for s, d in pairs]


_PLACE = {
    "id": "id callsign call callletters ident identifier code shortname stationid landmarkid "
    "station siteid txid landmark facilityid",
    "name": "name stationname sitename transmittername title site transmitter location service "
    "description fullname",
    "latitude": "latitude lat latitudewgs84 latwgs84 decimallatitude declat latitudedecimal "
    "latdecimal latitudedd latdd latd y breite breitengrad",
    "latitude_minutes": "latitudeminutes latminutes latitudemin latmin latm",
    "latitude_seconds": "latitudeseconds latseconds latitudesec latsec lats",
    "latitude_hemisphere": "latitudehemisphere lathemisphere latdir latdirection latitudedir "
    "latitudedirection lathem latns ns northsouth",
    "longitude": "longitude lon long lng longitudewgs84 lonwgs84 longwgs84 decimallongitude declon "
    "declong longitudedecimal londecimal longitudedd londd longdd lond longd x lange langengrad",
    "longitude_minutes": "longitudeminutes lonminutes longminutes longitudemin lonmin longmin "
    "lonm longm lngmin",
    "longitude_seconds": "longitudeseconds lonseconds longseconds longitudesec lonsec longsec "
    "lons longs lngsec",
    "longitude_hemisphere": "longitudehemisphere lonhemisphere longhemisphere londir longdir "
    "londirection longdirection longitudedir longitudedirection lonhem lonew ew eastwest",
    "position": "position coordinates coordinate coords latlon latlong latlng latitudelongitude "
    "gps gpscoordinates gpsposition",
}
_RADIO = {
    "haat": "haat heightaboveaverageterrain antennahaat aat ehaat heightaat antennaheightaat "
    "antennaheightaboveaverageterrain",
    "height_unstated": " ".join(_HEIGHT),
    "rf_channel": "rfchannel rf rfch rfchan rfchannelnumber rfnumber channelrf physicalchannel "
    "realchannel actualchannel transmitchannel transmittedchannel onairchannel broadcastchannel "
    "uhfchannel vhfchannel digitalchannel dtvchannel frequencychannel canalfisico",
    "channel_unstated": "channel ch chan channelnumber channelno chno chnumber kanal canal",
    "virtual_channel": "virtualchannel virtual virtualch virtchan virtualchannelnumber "
    "displaychannel displayedchannel logicalchannel logicalchannelnumber lcn majorchannel "
    "psipchannel psip channelvirtual",
    "frequency": "frequency freq centrefrequency centerfrequency centrefreq centerfreq "
    "channelfrequency frequenz frequencia",
    "erp": "erp maxerp erpmax maximumerp totalerp erptotal erppower effectiveradiatedpower "
    "maximumeffectiveradiatedpower",
    "eirp": "eirp maxeirp eirpmax maximumeirp effectiveisotropicradiatedpower "
    "equivalentisotropicradiatedpower equivalentisotropicallyradiatedpower",
    "power_unstated": "power pwr radiatedpower leistung potencia",
    "polarization": "polarization polarisation pol polar polarity polarizacion",
    "system": "system standard tvsystem transmissionsystem broadcaststandard",
    "mode": "mode modulation modulationmode txmode transmissionmode",
    "required_cn": "requiredcn cn requiredcnr cnr minimumcn requiredcarriertonoise",
    "pattern": "pattern antennapattern horizontalpattern directionalpattern radiationpattern "
    "powerpattern relativedb relativepower hrp",
    "pattern_attenuation": "attenuation patternattenuation attenuationpattern",
    "pattern_field": "relativefield patternrelativefield relativefieldpattern relfield "
    "fieldpattern patternfield relativefieldvalues",
    "field": "fielddbuvm field fieldstrength fieldstrengthdbuvm predictedfield measuredfield",
    "field_sigma": "fieldsigma fieldsigmadb sigmafield",
    "role": "role purpose usage",
    "must_have": "musthave must essential required mustreceive",
}
_MAP = {
    "height_unstated": " ".join(_TOP),
    "elevation_unstated": " ".join(_ELEVATION),
    "sigma": "sigma accuracy uncertainty positionsigma sigmaposition error",
}

_SCAN = {
    **{name: _RADIO[name] for name in ("rf_channel", "channel_unstated", "virtual_channel")},
    "frequency": _RADIO["frequency"],
    "received": "received locked lock found decoded watchable picture reception receivable ok "
    "programme program signalfound status empfangen recibido recu",
    "strength": "strength signal signalstrength level signallevel powerlevel rssi power inputlevel "
    "inputpower channelpower receivedpower strengthbars pegel nivel niveau",
    "cn": "cn cnr carriertonoise snr signaltonoise cnratio mer modulationerrorratio",
    "steady": "steady stable solid dropoutfree",
    "dropouts": "dropouts unsteady unstable breaksup",
}


@lru_cache(maxsize=3)
def spellings_of(kind: Kind) -> dict[str, tuple[str, int]]:
    """Each squashed spelling with its quantity and its rank, of which the lowest wins.

    >>> spellings_of("stations")["callsign"], spellings_of("stations")["rcamsl"][0]
    (('id', 1), 'antenna_amsl')
    """
    if kind == "scans":
        return _ranked({quantity: text.split() for quantity, text in _SCAN.items()})
    words = {quantity: text.split() for quantity, text in _PLACE.items()}
    if kind == "stations":
        words |= {quantity: text.split() for quantity, text in _RADIO.items()}
        words["antenna_amsl"] = _above(_ANTENNA, _AMSL)
        words["antenna_agl"] = _above(_ANTENNA, _AGL)
        words["elevation_unstated"] = [*_ELEVATION, *_above(_ELEVATION, _AMSL)]
    else:
        words |= {quantity: text.split() for quantity, text in _MAP.items()}
        words["top_amsl"] = _above(_HIGHEST, _AMSL)
        words["top_agl"] = _above(_HIGHEST, _AGL)
    words["ground_amsl"] = [*_GROUND, *_above(_GROUND, _AMSL)]
    return _ranked(words)


def _ranked(words: dict[str, list[str]]) -> dict[str, tuple[str, int]]:
    found: dict[str, tuple[str, int]] = {}
    for quantity, spellings in words.items():
        for rank, spelling in enumerate(spellings):
            found.setdefault(spelling, (quantity, rank))
    return found


def units_of(quantity: str) -> frozenset[str]:
    """The units that a column of a quantity may be in; empty where it has none.

    >>> "ft" in units_of("antenna_agl"), "w" in units_of("longitude")
    (True, True)
    """
    if quantity in ("latitude", "longitude"):
        return _DEGREES | HEMISPHERES
    if quantity in ("erp", "eirp", "power_unstated"):
        return POWER_UNITS
    if quantity == "strength":
        return STRENGTH_UNITS
    if quantity == "frequency":
        return FREQUENCY_UNITS
    if quantity.endswith(("_amsl", "_agl")) or quantity in (
        "haat", "sigma", "height_unstated", "elevation_unstated",
    ):  # fmt: skip
        return METRES | FEET
    return frozenset(("db", "deg"))
