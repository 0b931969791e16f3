"""The words of logger files, as data: quantities, units, times and months in the languages they come in.

Latin words are written without accents and in lower case, as `plain` gives them. A fragment matches
anywhere in the header; a token only as a word of its own.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_DEGREE = str.maketrans({"º": "°", "˚": "°", "∘": "°", "�": "°", "−": "-", "–": "-", "’": "'", "′": "'", "\ufeff": ""})
_MARKS = re.compile("[\u0300-\u036f]")


@lru_cache(maxsize=20_000)
def plain(text: str) -> str:
    """Lower case, accents off, one kind of degree sign and blank; camelCase taken apart.

    >>> plain("Température  [℃]"), plain("airTempC")
    ('temperature [°c]', 'air temp c')
    """
    text = unicodedata.normalize("NFKC", text.translate(_DEGREE).replace("Â°", "°"))
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    text = _MARKS.sub("", unicodedata.normalize("NFD", text.casefold()))
    return re.sub(r"\s+", " ", unicodedata.normalize("NFC", text)).strip()


@lru_cache(maxsize=20_000)
def tokens(text: str) -> tuple[str, ...]:
    """The words and numbers of a plain text; letters and digits come apart ("t1" -> "t", "1")."""
    return tuple(re.findall(r"[^\W\d_]+|\d+|[°%#]", text))


# (role, fragments, tokens). The first that matches has the column: "dew point temperature" is no temperature,
# "absolute humidity" and "wet bulb" are no relative humidity.
ROLES: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("setpoint", ("set point", "setpoint", "sollwert", "consigne", "consigna", "setpunt", "soll-", "valore impostato",
                  "設定値", "设定", "alarm", "threshold", "grenzwert", "seuil", "umbral", "soglia"), ("soll",)),
    ("dew_point_c", ("dew p", "dewp", "dew_p", "dew-p", "dew t", "taupunkt", "rosee", "rocio", "orvalho", "rugiada",
                     "dauwpunt", "露点", "frost point", "punto di r", "taup.", "frostpunkt"),
     ("dp", "td", "tdew", "dpt", "dew", "tp")),
    ("wet_bulb_c", ("wet bulb", "wetbulb", "feuchtkugel", "feuchttemp", "bulbe humide", "bulbo humedo", "bulbo umido",
                    "natte bol", "natteboltemp", "湿球", "thermometre mouille"), ("twb", "wb")),
    ("moisture_percent", ("soil", "wood m", "holzfeucht", "bodenfeucht", "materialfeucht", "suelo", "moisture",
                          "houtvocht", "含水"), ("wme",)),
    ("voc", ("μg/m", "ug/m", "mg/m", "feinstaub", "particul"), ("pm", "voc", "tvoc", "iaq", "vocs")),
    (
        "other_percent",
        ("memory", "speicher", "ladung", "ladezust", "charge", "valve", "ventil", "cloud", "cpu", "disk", "fan speed",
            "occupan",
         "sunshine", "duty", "remaining", "free space"),
        ("soc", "fan", "load", "mem", "full"),
    ),
    ("absolute_humidity_g_m3", ("absolut", "assolut", "abs.f", "abs hum", "abshum", "g/m", "g·m", "g m-3",
                                "gm-3", "绝对", "絶対", "absol"), ("ah", "abs")),
    ("mixing_ratio_g_kg", ("mixing", "g/kg", "mischungsverh", "specific hum", "spezifische feucht",
                           "humidite specifique", "humidity ratio", "melange", "混合比"), ()),
    ("vapour_pressure", ("vapor press", "vapour press", "dampfdruck", "deficit", "defizit", "pression de vapeur",
                         "水蒸気圧"), ("vpd", "vp")),
    ("heat_index_c", ("heat ind", "hitzeindex", "feels", "gefuhlt", "apparent", "humidex", "ressentie"), ("hi",)),
    ("uv", ("ultraviol", "紫外", "uv-", "uv index", "μw/lm", "uw/lm"), ("uv", "uva", "uvi", "uvb")),
    ("lux", ("lux", "illum", "light", "licht", "beleucht", "helligkeit", "eclair", "ilumin", "lumin", "照度", "光照",
             "光强", "光量"), ("lx", "luz", "luce", "klux")),
    ("co2_ppm", ("co2", "carbon diox", "kohlendiox", "kohlenstoffdiox", "二氧化碳", "二酸化炭素", "anidride carb",
                 "dioxyde de carb", "koolstofdiox", "dioxido de carb"), ("ppm",)),
    ("signal", ("rssi", "signal", "segnale", "senal", "sinal", "empfang", "信号"), ("snr", "lqi", "dbm")),
    ("battery", ("batt", "bater", "akku", "volt", "电池", "電池", "电量", "spannung", "tension", "tensao"),
     ("bat", "accu", "pila", "pile", "vbat", "vcc", "v", "mv", "vdc")),
    ("pressure_hpa", ("press", "druck", "hpa", "mbar", "kpa", "baro", "气压", "気圧", "大气压", "压力", "presion"),
     ("atm", "mmhg", "inhg")),
    ("wind_rain", ("wind sp", "wind dir", "windsp", "precip", "niederschlag"), ("wind", "rain", "gust", "pluie",
        "lluvia")),
    ("rh", ("humid", "humed", "feucht", "umid", "vochtig", "湿度", "濕度", "相对湿", "相対湿", "rel. hum", "relhum",
        "습도",
            "rel hum", "rel.f", "rel. f", "rel. lf", "relf", "hygro", "fukt", "fugt", "wilgotn", "vlhk", "влажн",
            "kosteus", "paratart", "υγρασ", "%rh", "% rh", "%rf", "% rf", "%hr", "% hr",
            "%ur",
            "% ur", "%rv", "% rv", "r.h.", "h.r.", "r.f.", "u.r.", "r.v.", "r.lf"),
     ("rh", "hr", "ur", "rv", "rf", "rlf", "hum", "humi", "rhum", "hrel", "luftf", "湿")),
    ("temp", ("temp", "温度", "溫度", "気温", "室温", "气温", "氣溫", "온도", "thermo", "celsius", "fahrenheit",
        "kelvin", "dry bulb", "drybulb",
              "trockenkugel", "teplot", "темпер", "lampotil", "sıcakl", "sicakl", "homersek", "θερμοκρ"), ("tair",
              "tmp", "tc", "tf")),
)  # fmt: skip

WEAK_TEMP = ("t", "ta", "ti", "te", "tin", "tout", "tint", "text", "tamb", "温")
WEAK_RH = ("u", "h", "phi", "φ", "lf", "rel")
STATISTICS = {
    "min": ("min", "mini", "minimum", "minimo", "minimale", "tmin", "最低", "最小", "low", "lowest", "tiefst"),
    "max": ("max", "maxi", "maximum", "massimo", "maximo", "maximale", "tmax", "最高", "最大", "high", "highest"),
    "spread": ("std", "stdev", "sd", "stddev", "sigma", "stabw", "uncertainty", "accuracy", "error"),
}  # fmt: skip

DATE = (
    "date",
    "datum",
    "fecha",
    "data",
    "dia",
    "jour",
    "giorno",
    "dag",
    "tag",
    "dato",
    "дата",
    "日付",
    "日期",
    "年月日",
    "날짜",
)
TIME = ("time", "zeit", "uhrzeit", "heure", "hora", "ora", "tijd", "時刻", "时刻", "時間", "时间", "uhr", "czas",
    "cas", "klockslag", "tid", "время", "시간",
    "horario",
        "orario", "klok", "clock", "temps", "tempo", "tiempo", "momento", "moment", "instante", "instant",
        "temporal")  # fmt: skip
# they begin like "temperature" and mean time, unless a unit of temperature stands beside them
TIMELY = ("temps", "tempo", "temporal", "tempos")
STAMP = ("datetime", "timestamp", "zeitstempel", "zeitpunkt", "horodat", "日時", "日时", "日期时间", "tijdstip",
         "marca temporal",
         "messzeit", "date/time", "datum/zeit", "date time", "marca de tiempo", "epoch", "unix", "测量时间",
         "記録日時",
         "记录时间", "測定日時", "時刻", "fecha/hora", "data/ora", "data/hora", "date/heure", "datum/uhrzeit",
         "datum/tijd",
         "utc")  # fmt: skip
PARTS = {
    "yday": ("doy", "day of year", "julian day", "jday", "yday", "dayofyear", "day_of_year", "tag des jahres",
        "jour de l'annee"),
    "year": ("year", "jahr", "annee", "an", "ano", "anno", "jaar", "年", "yr", "yyyy", "yy"),
    "month": ("month", "monat", "mois", "mes", "mese", "maand", "月", "mon", "mm"),
    "day": ("day", "tag", "jour", "dia", "giorno", "dag", "日", "dd", "dom"),
    "hour": ("hour", "stunde", "heure", "hora", "ora", "uur", "時", "时", "hr", "hh", "std", "h"),
    "minute": ("minute", "minuto", "minuten", "minuut", "分", "min", "mi", "mn"),
    "second": ("second", "sekunde", "seconde", "segundo", "secondo", "秒", "sec", "ss", "s"),
}  # fmt: skip
# a column that counts from the start of the record
ELAPSED = ("elapsed", "since start", "since begin", "since launch", "run time", "runtime", "running time",
           "relative time",
           "verstrichen", "vergangen", "abgelaufen", "laufzeit", "messdauer", "seit start", "seit beginn",
           "betriebszeit",
           "ecoule", "depuis le debut", "duree", "transcurrid", "desde el inicio", "decorrid", "desde o inicio",
           "trascors", "dall'inizio", "dall inizio", "verstreken", "verlopen", "sinds start", "経過", "经过时间",
           "已用时",
           "累计时间", "历时", "duration")  # fmt: skip
SPANS = (
    ("ms", 1_000, ("ms", "msec", "millisecond", "milliseconds", "millisekunden", "ミリ秒", "毫秒")),
    ("seconds", 1_000_000, ("s", "sec", "secs", "second", "seconds", "sek", "sekunde", "sekunden", "seconde",
    "secondes",
     "segundo", "segundos", "secondo", "secondi", "seconden", "秒")),
    ("minutes", 60_000_000, ("min", "mins", "minute", "minutes", "minuten", "minuto", "minutos", "minuti", "minuut",
     "分", "分钟", "分間")),
    ("hours", 3_600_000_000, ("h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden", "heure", "heures",
    "hora",
     "horas", "ora", "ore", "uur", "uren", "時間", "小时", "小時", "时")),
    ("days", 86_400_000_000, ("d", "day", "days", "tage", "tag", "jour", "jours", "dia", "dias", "giorno", "giorni",
     "dag", "dagen", "日", "天")),
)  # fmt: skip
BEGIN = ("start", "begin", "launch", "gestartet", "beginn", "debut", "demarrage", "inicio", "comienzo", "arranque",
         "inizio", "avvio", "aanvang", "開始", "开始", "起始", "启动", "first reading", "first sample",
         "first measure",
         "erste messung", "premiere mesure", "primera medida", "primeira medi", "prima misura",
         "eerste meting")  # fmt: skip
# dates that are none of a reading's, or of the last
NOT_BEGIN = ("end", "ende", "ended", "stop", "stopp", "fin", "fine", "fim", "final", "finish", "einde", "arret",
           "termin",
             "終了", "结束", "停止", "export", "created", "erstellt", "creat", "cree", "download", "read out",
             "readout",
             "auslese", "ausgelesen", "ausgewertet", "print", "gedruckt", "druck", "imprim", "impres", "stampa",
             "afgedrukt", "saved", "gespeichert", "calibr", "kalibr", "etalonn", "taratur", "ijk", "kalibrat", "校正",
             "校准", "battery", "batter", "firmware", "version", "software", "next", "due", "generat", "report",
             "bericht",
             "出力", "导出", "下载", "作成", "打印", "last", "letzte", "dernier", "ultim", "laatste", "最后",
             "transfer",
             "uitgelezen", "scarica", "descarg", "telecharg", "baixad", "manufactur", "produced", "warrant",
             "modified",
             "geandert", "modifi", "until", "bis", "jusqu", "hasta", "ate", "fino", "tot")  # fmt: skip
NUMBER = ("#", "no", "nr", "num", "number", "n", "id", "index", "idx", "record", "row", "zeile", "lfd", "nummer",
    "numero",
          "序号", "番号", "番號", "编号", "count", "anzahl", "scan", "sample", "ligne", "linea", "riga", "regel",
          "entry", "seq", "item", "messung", "n°")  # fmt: skip
PROBE = ("sensor", "probe", "logger", "device", "room", "location", "channel", "station", "serial", "raum", "fuhler",
    "ort",
         "messstelle", "standort", "gerat", "kanal", "piece", "salle", "sonde", "capteur", "lieu", "sala", "canal",
         "sensore", "sonda", "stanza", "luogo", "canale", "ruimte", "kamer", "locatie", "kanaal", "apparaat", "place",
         "site", "position", "zone", "センサ", "場所", "チャンネル", "传感器", "探头", "位置", "通道", "房间", "设备",
         "部屋",
         "node", "unit id", "point", "habitacion", "lugar", "ubicacion", "local", "posicao", "dispositivo",
         "sensor_id",
         "tag", "name", "label", "area", "topic")  # fmt: skip
QUANTITY = ("parameter", "quantity", "variable", "measure", "measurement", "type", "metric", "messgrosse", "grosse",
            "grandeur", "magnitud", "grandezza", "grandeza", "grootheid", "項目", "项目", "参数", "種類", "类型",
            "field",
            "property", "parametre", "parametro", "mesure", "misura", "medida", "kind", "typ", "tipo", "observed",
            "attribute", "series", "measurand")  # fmt: skip
VALUE = ("value", "wert", "messwert", "valeur", "valor", "valore", "waarde", "値", "数值", "测量值", "reading",
    "result",
         "測定値", "meetwaarde", "state")  # fmt: skip
UNIT = ("unit", "units", "einheit", "unite", "unidad", "unidade", "unita", "eenheid", "単位", "单位")

UNITS = (
    ("C", re.compile(r"(?:°|deg(?:ree)?s?\.?[ _]?|grad[oi]?s? ?|[*?'^][ ]?)c(?![a-z])|(?<![a-z0-9])o ?c(?![a-z])"
                     r"|celsius|centigrad|摄氏|攝氏|摂氏")),
    ("F", re.compile(r"(?:°|deg(?:ree)?s?\.?[ _]?|grad[oi]?s? ?|[*?'^][ ]?)f(?![a-z])|(?<![a-z0-9])o ?f(?![a-z])"
                     r"|fahrenheit|华氏|華氏")),
    ("K", re.compile(r"(?:°|deg[ _]?)k(?![a-z])|kelvin|开尔文|开氏")),
    ("%", re.compile(r"%|percent|prozent|pourcent|por ?cien|percentu|procent|百分|(?<![a-z])pct(?![a-z])")),
)  # fmt: skip
BARE_UNITS = (
    ("C", re.compile(r"[(\[{,/_ ]\s*c\s*[)\]}]?\s*$|^c$|[(\[{]\s*c\s*[)\]}]")),
    ("F", re.compile(r"[(\[{,/_ ]\s*f\s*[)\]}]?\s*$|^f$|[(\[{]\s*f\s*[)\]}]")),
    ("K", re.compile(r"[(\[{,/_ ]\s*k\s*[)\]}]?\s*$|^k$|[(\[{]\s*k\s*[)\]}]")),
    ("1", re.compile(r"[(\[]\s*(?:0 ?(?:-|\.\.) ?1|1|-|frac\w*|ratio)\s*[)\]]|fraction|fraktion")),
)  # fmt: skip

_MONTHS = (
    "january jan januar janvier janv enero ene janeiro gennaio gen januari jaen janner sty",
    "february feb februar fevrier fevr fev febrero fevereiro febbraio febr februari feber",
    "march mar marz maerz mrz mars marzo marco maart mrt mrz",
    "april apr avril avr abril abr aprile",
    "may mai mayo maio maggio mag mei maj",
    "june jun juni juin junio junho giugno giu",
    "july jul juli juillet juil julio julho luglio lug",
    "august aug aout aou agosto ago augustus",
    "september sep sept septembre septiembre setiembre set setembro settembre sett",
    "october oct oktober okt octobre octubre outubro out ottobre ott",
    "november nov novembre noviembre novembro",
    "december dec dezember dez decembre diciembre dic dezembro dicembre des desember",
)
MONTHS = {name: number for number, names in enumerate(_MONTHS, 1) for name in names.split()}

PM = {"pm", "p.m.", "p. m.", "p.m", "下午", "午後", "오후", "nachm.", "nachmittags", "晚上"}
AM = {"am", "a.m.", "a. m.", "a.m", "上午", "午前", "오전", "vorm.", "vormittags", "凌晨", "早上"}

# abbreviations that name one offset only; those that name several (CST, IST, AST, BST with its two) are left out
ZONE_ABBREVIATIONS = {
    "utc": 0, "gmt": 0, "ut": 0, "wet": 0, "west": 60, "cet": 60, "mez": 60, "met": 60, "cest": 120, "mesz": 120,
    "mest": 120, "eet": 120, "eest": 180, "oez": 120, "oesz": 180, "msk": 180, "est": -300, "edt": -240, "cdt": -300,
    "mst": -420, "mdt": -360, "pst": -480, "pdt": -420, "akst": -540, "akdt": -480, "hst": -600, "jst": 540, "kst": 540,
    "aest": 600, "aedt": 660, "acst": 570, "acdt": 630, "awst": 480, "nzst": 720, "nzdt": 780, "sast": 120, "brt": -180,
}  # fmt: skip

MISSING = {
    "", "na", "n/a", "nan", "none", "null", "nil", "-", "--", "---", "----", "-----", ".", "..", "...", "*", "**",
    "***",
    "#n/a", "#nv", "#na", "missing", "no data", "nodata", "fehlt", "n.a.", "n. a.", "s/d", "n.d.", "nd", "k.a.", "—",
    "leer", "unknown", "unavailable", "empty", "vide", "_", "?", "\\n", "-.-", "--.-", "---.-", "--.--", "n.v.", "x",
    "/",
}  # fmt: skip
FAULT = re.compile(
    r"err|fail|fault|fehler|defekt|over|under|ol$|^ol|^lo+$|^hi+$|inf|open|short|discon|nicht|lost|invalid|"
    r"erreur|hors|fuera|fora|fuori|#\w+[!?]?|out of|disabled|not con|no sens|断|错|異常|エラー|erro|-lo-|-hi-|"
    r"^low$|^high$"
)
DAMAGED = re.compile(r"^\d{1,2}[-./ ]+[^\W\d]{3,9}\.?$|^[^\W\d]{3,9}\.?[-./ ]+\d{1,4}$")
