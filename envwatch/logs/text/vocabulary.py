"""The words of logger files, as data: units, parts of dates, months, zones, what stands for nothing.

Latin words are written without accents and in lower case, as `plain` gives them. Words of headers: `words`.
"""

from __future__ import annotations

import re

from envwatch.logs.text.words import plain as plain
from envwatch.logs.text.words import tokens as tokens
from envwatch.logs.text.words import whole

# what a column may hold; where a text names several, the first counts, and a device's quantity only before these
CALCULATED = ("setpoint", "dew_point_c", "wet_bulb_c", "moisture_percent", "absolute_humidity_g_m3",
              "mixing_ratio_g_kg", "vapour_pressure", "heat_index_c")  # fmt: skip
AIR = ("rh", "temp")
DEVICE = ("uv", "voc", "lux", "co2_ppm", "signal", "battery", "pressure_hpa", "wind_rain", "other_percent")
QUANTITIES = (*CALCULATED, *AIR, *DEVICE)
STATISTICS = ("predicted", "min", "max", "spread", "mean")

WEAK_TEMP = ("t", "ta", "ti", "te", "tin", "tout", "tint", "text", "tamb", "温")
WEAK_RH = ("u", "h", "phi", "φ", "lf", "rel")
DATE, TIME, STAMP, NUMBER, PROBE, QUANTITY, VALUE, UNIT = map(
    whole, ("date", "time", "stamp", "number", "probe", "quantity", "value", "unit")
)
# they begin like "temperature" and mean time, unless a unit of temperature stands beside them
TIMELY = ("temps", "tempo", "temporal", "tempos")
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
UNITS = (
    ("C", re.compile(r"(?:°|deg(?:ree)?s?\.?[ _]?|grad[oi]?s? ?|[*?'^][ ]?)c(?![a-z])|(?<![a-z0-9])o ?c(?![a-z])")),
    (
        "F",
        re.compile(
            r"(?:°|deg(?:ree)?s?\.?[ _]?|grad[oi]?s? ?|[*?'^][ ]?)f(?![a-z])|[(\[{]o ?f(?![a-z])|(?<![a-z0-9])of$"
        ),
    ),
    ("K", re.compile(r"(?:°|deg[ _]?)k(?![a-z])")),
    ("%", re.compile(r"%")),
    ("C", re.compile(r"(?<![a-z])(?:celsius|centigrades?)(?![a-z])|摄氏|攝氏|摂氏")),
    ("F", re.compile(r"(?<![a-z])fahrenheit(?![a-z])|华氏|華氏")),
    ("K", re.compile(r"(?<![a-z])kelvin(?![a-z])|开尔文|开氏")),
    ("%", re.compile(r"percent|prozent|pourcent|por ?cien|procent|百分|(?<![a-z])pct(?![a-z])")),
)
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

PM = {"pm", "p.m.", "p. m.", "p.m", "下午", "午後", "오후", "nachm.", "nachmittags", "晚上", "μ.μ.", "μμ"}
AM = {"am", "a.m.", "a. m.", "a.m", "上午", "午前", "오전", "vorm.", "vormittags", "凌晨", "早上", "π.μ.", "πμ"}

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

# words of any logger's file: a label that says no more names no logger
_GENERAL = (
    "data daten datos dati dados donnees gegevens messdaten klimadaten messwerte messwert readings reading values "
    "value log logs logger datalogger datenlogger loggers record records recording recorder protokoll protocol "
    "journal export download readout read out auslesung auslesen releve scarico descarga leitura uitlezing lecture "
    "lectura report bericht rapport informe relatorio rapporto verslag table tabelle tableau tabla tabela tabella "
    "tabel list liste lista lijst measurement measurements messung messungen mesure mesures medida medidas misura "
    "misure meting metingen medicion mediciones temperature temperatur temperaturen temperatura temperatuur temp "
    "humidity feuchte feuchtigkeit luftfeuchte humidite humedad umidade umidita vochtigheid rh climate climat clima "
    "klima klimaat air luft aire aria ar lucht room raum relative relativ device gerat gerats gerates appareil l "
    "aparato aparelho apparaat apparecchio instrument s alarm alarms alarmgrenzen limit limits grenzen history file "
    "datei results result ergebnisse resultats resultados risultati resultaten the of a an and or from for und oder "
    "der die das des dem den von vom im et ou de du la le les d y o del el los las e do da dos di il della dell dei "
    "en van het een"
    "serial serie serien number numero nummer seriennummer serienummer geratenummer matricola sn n no nr num id name "
    "nom nombre nome naam title titel titre titulo titolo description beschreibung bezeichnung loggername "
    "geratename model modell modele modelo modello typ type version firmware software hardware hersteller fabricant "
    "manufacturer interval intervall intervalle intervalo intervallo timezone zeitzone operator user project projekt "
    "customer kunde units degc degf"
)
# what stands where nothing was filled in, and a spreadsheet's words for an error (those from memory)
_EMPTY = (
    "none unknown unset undefined unnamed untitled unassigned empty blank missing null nil nan na nv nd nvt default "
    "void tbd tba error err fault invalid failed not set applicable available known given assigned defined nothing "
    "ref div value spill calc "
    "kein keine keiner keines keinen unbekannt unbenannt namenlos leer leere fehlt fehler nicht ohne vorhanden "
    "verfugbar gesetzt bekannt vergeben belegt angabe entfallt standard ungultig wert bezug zahl "
    "aucun aucune inconnu inconnue vide neant sans absent absente manquant manquante non pas defini definie "
    "disponible renseigne renseignee indefini indefinie erreur defaut par valeur nul "
    "ninguno ninguna ningun desconocido desconocida vacio vacia sin falta definido definida indefinido indefinida "
    "predeterminado defecto por asignar asignado especificar especificado valor nulo "
    "nenhum nenhuma desconhecido desconhecida vazio vazia sem nao disponivel indisponivel atribuido padrao erro "
    "ausente "
    "nessuno nessuna nessun sconosciuto sconosciuta vuoto vuota senza ignoto ignota assente mancante definito definita "
    "assegnato predefinito errore rif nullo valore "
    "geen onbekend onbekende leeg zonder naamloos niet beschikbaar ingesteld toegewezen ontbreekt standaard fout "
    "waarde verw getal"
)
_EMPTY_UNSPACED = (
    "なし", "無し", "不明", "未設定", "未定", "未登録", "未入力", "該当なし", "名称未設定", "無題", "初期値", "エラー",
    "无", "無", "空", "没有", "未知", "不详", "未设置", "未命名", "暂无", "缺失", "默认", "未填写", "未定义", "不适用",
    "错误",
)  # fmt: skip
_GENERAL_UNSPACED = (
    "温湿度", "温度", "湿度", "記録", "データ", "数据", "导出", "记录", "測定", "测量", "结果", "結果", "出力", "報告",
    "报告", "ロガー", "一覧", "の", "的", "表", "と", "和",
    "番号", "序列号", "编号", "シリアル", "製造", "機器", "名称", "仪器", "設備", "名",
)  # fmt: skip
_TABLES = (DATE, TIME, STAMP, NUMBER, PROBE, QUANTITY,
           VALUE, UNIT, BEGIN, NOT_BEGIN,
           *map(whole, STATISTICS))  # fmt: skip
_QUANTITIES = {w for kind in QUANTITIES for w in whole(kind) if w.isalpha() and len(w) > 1} | {"co"}
NUMBERED = {*_QUANTITIES, *NUMBER, "serial", "serie", "seriennummer", "serienummer", "matricola", "no",
             "nr", "sn"}  # fmt: skip
_WORDS = {token for table in _TABLES for word in table for token in tokens(word)} | _QUANTITIES | set("°%#x")
EMPTY = frozenset(_EMPTY.split())
GENERAL = frozenset(_GENERAL.split()) | _WORDS | EMPTY
UNSPACED = sorted(
    {*_EMPTY_UNSPACED, *_GENERAL_UNSPACED, *(w for table in _TABLES for w in table if not w.isascii())}, key=len
)[::-1]
