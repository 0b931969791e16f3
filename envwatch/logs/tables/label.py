"""The logger's own serial number or name, as its file gives it; and labels that name no logger.

Such are words of any logger's file, and what stands where nothing was filled in: two files with the same label are
taken for the same logger's, so a label that any file may bear is none.
"""

from __future__ import annotations

import re

from envwatch.logs.text import vocabulary
from envwatch.logs.text.vocabulary import plain, tokens
from envwatch.logs.text.words import whole
from envwatch.logs.times.preamble import written

_SERIAL = re.compile(
    r"(?:serial(?:\s?(?:number|no\.?|nr\.?|#))?|s/n|\bsn\b|seriennummer|serien-?nr\.?|geratenummer|gerate-?nr\.?|"
    r"n(?:umero|°|o|\.)? ?de serie|numero di serie|matricola|serienummer|logger ?(?:id|no\.?|nr\.?|number)|"
    r"device ?(?:id|no\.?)|"
    r"シリアル(?:番号|no\.?)?|製造番号|序列号|设备编号|编号)\s*[\"']?\s*[:=#;,\t|\x1f "
    r"]\s*[\"']?\s*(?P<it>[A-Za-z0-9][\w./-]{1,39})",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"^[\"'#\s]*(?:logger(?: ?name)?|device(?: ?name)?|(?:[^\W\d_]+ )?title|name|station(?: ?name)?|geratename|gerat|"
    r"loggername|datenlogger|messstelle|standort|bezeichnung|appareil|enregistreur|nom|nombre|dispositivo|nome|"
    r"apparaat|naam|"
    r"location|site|sensor(?: ?name)?|description|設備名|機器名|ロガー名|设备名称|名称|仪器名称|"
    r"description)\s*[\"']?\s*"
    r"[:=;,\t|\x1f]\s*[\"']?\s*(?P<it>[^\"';,\t|\x1f]{1,60})",
    re.IGNORECASE,
)
_ACCENTS = str.maketrans("äöüéèêíóáçãõúàìòùñÄÖÜÉ", "aoueeeioacaouaiounAOUE")
_BARE = re.compile(r"(?P<it>\d+)")
_KEYED = re.compile(r"[^\W\d_][^:\d]*:")  # "Interval: 10 min" stands in any file
_IN_HEADER = re.compile(r"\bs/?n\s*[:.#]\s*(?P<it>[\w-]+)", re.IGNORECASE)


def find(preamble: list[str], names: list[str], serial: str | None = None) -> str | None:
    """A serial number before a name before a title; None where the file gives none, or leaves it empty.

    `serial` is the number that stands bare in the columns' names.

    >>> find(["Seriennummer: 10042", "Messstelle: Depot"], []), find(["Title: North store"], []), find([], ["Temp"])
    ('10042', 'North store', None)
    >>> find(["Messdaten des Geräts"], []), find(["Operator: none"], []), find(["Logger 7"], [])
    (None, None, 'Logger 7')
    >>> find(["Serial no.;", "Device name: not set"], []), find(["Serial no.;N/A", "Location;Attic"], [])
    (None, 'Attic')
    """
    texts = [line.translate(_ACCENTS) for line in preamble[:200] if len(line) < 500]
    for pattern, fits, some in (
        (_SERIAL, is_serial, texts),
        (_IN_HEADER, is_serial, names[:100]),
        (_BARE, is_serial, [serial or ""]),
        (_NAME, _is_name, texts),
    ):
        for text in some:
            for found in pattern.finditer(text):
                if fits(found["it"]):
                    return "".join(c for c in found["it"].strip() if c.isprintable())
    return title(preamble)


def title(preamble: list[str]) -> str | None:
    """A single short first line such as "Logger 10042"."""
    filled = [re.sub(r"[;,\t|\x1f\"\s]+$", "", line).strip('"# ') for line in preamble[:3] if line.strip(" ;,\t\x1f")]
    if not filled or re.match(r"(?i)sep=", filled[0]) and len(filled) < 2:
        return None
    first = filled[1] if re.match(r"(?i)sep=", filled[0]) else filled[0]
    plain_ = plain(first)
    if len(first) > 60 or re.search(r"[;,\t|=\x1f]|\d:\d|https?:|export|created|report|version", plain_):
        return None
    signs = sum(c.isalnum() for c in first)
    return first if signs > 1 and not _KEYED.match(plain_) and not nameless(first) else None


def _is_name(text: str) -> bool:
    return bool(text.strip(" .-")) and not nameless(text)


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
_SHORT = re.compile(r"(?<!\w)(?:n\. ?v\. ?t|n[./] ?[abcdv]|k\. ?a|s[./] ?[do])\.?(?!\w)")  # n.a., k. A., n.v.t., s/d
_GENERAL_UNSPACED = (
    "温湿度", "温度", "湿度", "記録", "データ", "数据", "导出", "记录", "測定", "测量", "结果", "結果", "出力", "報告",
    "报告", "ロガー", "一覧", "の", "的", "表", "と", "和",
    "番号", "序列号", "编号", "シリアル", "製造", "機器", "名称", "仪器", "設備", "名",
)  # fmt: skip
_TABLES = (vocabulary.DATE, vocabulary.TIME, vocabulary.STAMP, vocabulary.NUMBER, vocabulary.PROBE, vocabulary.QUANTITY,
           vocabulary.VALUE, vocabulary.UNIT, vocabulary.BEGIN, vocabulary.NOT_BEGIN,
           *map(whole, vocabulary.STATISTICS))  # fmt: skip
_QUANTITIES = {w for kind in vocabulary.QUANTITIES for w in whole(kind) if w.isalpha() and len(w) > 1} | {"co"}
_NUMBERED = {*_QUANTITIES, *vocabulary.NUMBER, "serial", "serie", "seriennummer", "serienummer", "matricola", "no",
             "nr", "sn"}  # fmt: skip
_WORDS = {token for table in _TABLES for word in table for token in tokens(word)} | _QUANTITIES | set("°%#x")
EMPTY = frozenset(_EMPTY.split())
GENERAL = frozenset(_GENERAL.split()) | _WORDS | EMPTY
UNSPACED = sorted(
    {*_EMPTY_UNSPACED, *_GENERAL_UNSPACED, *(w for table in _TABLES for w in table if not w.isascii())}, key=len
)[::-1]


def nameless(text: str) -> bool:
    """Whether a label names no logger, for any logger's file may bear it.

    >>> some = "N/A", "Seriennummer", "°C", "0000", "7", "unknown 1", "01.03.2024", "未設定", "Logger 7", "10042"
    >>> [text for text in some if not nameless(text)]
    ['Logger 7', '10042']
    """
    bare = plain(text)
    if bare.strip(" \"'()[]<>{}!¡¿?") in vocabulary.MISSING:
        return True
    bare = _SHORT.sub(" none ", bare)
    for date in written([bare]) if any(map(str.isdigit, bare)) else ():
        bare = bare.replace(date.text, " ")
    for word in UNSPACED:
        bare = bare.replace(word, " ")
    found = tokens(bare)
    letters = [word for word in found if not word.isdigit() and not (word in {*"cfk"} and {*found} & {*"°%"})]
    if len(letters) == 1 and letters == [*found] and len(letters[0]) == 1:
        return letters[0] in "x°%#"  # loggers are called A and B
    if any(word not in GENERAL for word in letters):
        return False
    digits = "".join(word for word in found if word.isdigit())  # do they tell one logger from another?
    if not digits or len(digits) > 1 and set(digits) == {"0"} or len(digits) > 3 and set(digits) == {"9"}:
        return True
    if not letters:
        return len(digits) == 1
    return len(digits) < 3 and any(w in EMPTY for w in letters) or len(digits) == 1 and _NUMBERED.issuperset(letters)


def is_serial(text: str) -> bool:
    """Whether a text can be a serial number: with a digit, or capitals alone; "not" of "not set" is none.

    >>> [text for text in ("no.", "N/A", "not", "brak", "0000", "7", "A-17/3", "KQXW") if is_serial(text)]
    ['A-17/3', 'KQXW']
    """
    signs = [c for c in text if c.isalnum()]
    known = any(c.isdigit() for c in signs) or len(signs) > 3 and text.isupper()
    return len(signs) > 1 and known and not nameless(text)
