"""Words of headers, by language: one table. They are from memory and dictionaries.

Written as `plain` writes them. "_" stands for a blank, a hyphen or nothing; "*" before or behind for the rest of a
longer word ("*feucht*" is in "Raumfeuchte"). Without "*" only the whole word counts, except in scripts from Hebrew on,
which join their words.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

HEADERS: dict[str, dict[str, str]] = {
    "signs": {
        "temp": "t_air tair tmp tmpc tmpf tmin tmax tmean tavg tc tf tt t_db tdb t_bs",
        "rh": "rh rhmin rhmax rhmean hr ur rv rf rlf hrel rhum relh u_rel",
        "dew_point_c": "dp td tdew dpt dwpc dwpf tp",
        "wet_bulb_c": "twb wb", "moisture_percent": "wme", "voc": "pm voc tvoc vocs iaq μg/m* ug/m* mg/m*",
        "other_percent": "soc cpu mem dc pwm",
        "setpoint": "sp", "absolute_humidity_g_m3": "ah abs g/m* g·m* g_m-3 gm-3",
        "mixing_ratio_g_kg": "g/kg", "vapour_pressure": "vpd vp", "heat_index_c": "hi tpot",
        "uv": "uv uva uvi uvb μw/lm uw/lm", "lux": "lux lx klux", "co2_ppm": "co2 ppm",
        "signal": "rssi snr lqi dbm", "battery": "bat vbat vcc v mv vdc", "pressure_hpa": "hpa mbar kpa atm mmhg inhg",
        "min": "min mini tmin rhmin", "max": "max maxi tmax rhmax", "spread": "std stdev sd stddev sigma",
        "mean": "avg tmean tavg rhmean",
        "date": "", "time": "", "number": "# no nr num n id idx n°",
        "probe": "uuid eui imei",
        "filler": "c f k rh hr ur rv rf t h r u o m s oc sn deg degc degf ° % l", "generic": "ch ext",
    },
    "en": {
        "temp": "temp *temp temper tempc tempf *temperat* thermo thermometer thermocouple thermistor celsius "
                "fahrenheit kelvin dry_bulb",
        "rh": "*humid* hum humi relhum hygro hygrometer", "dew_point_c": "dew dew_p* dew_t* dewp frost_point",
        "wet_bulb_c": "wet_bulb", "moisture_percent": "soil wood_m* *moisture*", "voc": "particul*",
        "other_percent": "memory charge valve cloud cloudiness disk fan occupan* sunshine duty remaining free_space "
                         "load full level cooler heater pump",
        "absolute_humidity_g_m3": "absol* abs_hum*", "mixing_ratio_g_kg": "mixing* specific_hum* humidity_ratio",
        "vapour_pressure": "vapo*_press* *deficit*",
        "heat_index_c": "heat_ind* feels* apparent humidex potential_temp* wind_chill",
        "uv": "ultraviol*", "lux": "light lighting illum* brightness luminance luminosity",
        "co2_ppm": "carbon_diox*", "signal": "signal",
        "battery": "battery batteries batt volt volts voltage", "pressure_hpa": "press pressure baro baromet*",
        "wind_rain": "wind_* wind rain rainfall gust precip*",
        "setpoint": "set_point setpoints alarm alarms threshold thresholds target",
        "min": "minimum low lowest *tempmin *temperaturemin mintemp*",
        "max": "maximum high highest *tempmax *temperaturemax maxtemp*",
        "spread": "uncertainty accuracy error range difference",
        "predicted": "predict* pred forecast* modelled modeled simulated",
        "mean": "mean average averaged",
        "date": "date", "time": "time clock moment instant", "number": "number index record row count scan "
        "sample entry seq item", "probe": "sensor probe logger device room location channel station serial place site "
        "position zone node space unit_id point sensor_id tag name label area topic",
        "quantity": "parameter quantity variable measure measurement type metric field property kind observed "
                    "attribute series measurand",
        "value": "value reading result state", "unit": "unit units",
        "filler": "air relative rel temperature temp humidity value reading of the measured actual current point "
                  "celsius fahrenheit percent pct degrees degree and unit inst dry bulb serial",
        "generic": "room indoor inside internal ambient sensor probe channel logger device store house box environment "
                   "environmental data log main built",
        "stamp": "*datetime* *timestamp* date_time epoch unix utc"},
    "de": {
        "temp": "trockenkugel*", "rh": "*feuchte *feuchtigk* feucht luftf rel_f rel_lf",
        "dew_point_c": "taupunkt* taup frostpunkt",
        "wet_bulb_c": "feuchtkugel* feuchttemp*", "moisture_percent": "*holzfeucht* *bodenfeucht* *materialfeucht*",
        "voc": "feinstaub*", "other_percent": "speicher ladung ladezust* ladestand ventil ventilstellung pegel",
        "absolute_humidity_g_m3": "abs_feucht* abs_lf", "mixing_ratio_g_kg": "mischungsverh* spezifische_feucht*",
        "vapour_pressure": "*dampfdruck* *defizit*", "heat_index_c": "hitzeindex gefuhlt*",
        "lux": "licht lichtstarke *helligkeit beleucht*", "co2_ppm": "kohlendiox* kohlenstoffdiox*",
        "signal": "empfang signalstarke", "battery": "batterie batterien *spannung batteriestand akku",
        "pressure_hpa": "druck luftdruck", "wind_rain": "niederschlag*",
        "setpoint": "soll sollwert sollwerte grenzwert*",
        "min": "tiefst", "max": "hochst", "spread": "stabw", "predicted": "vorhersage* prognose* simuliert*",
        "mean": "mittel mittelwert",
        "date": "datum tag *datum", "time": "zeit uhrzeit uhr *zeit", "number": "zeile lfd nummer anzahl messung",
        "probe": "raum fuhler ort messstelle standort gerat kanal", "quantity": "messgrosse grosse typ",
        "value": "wert messwert", "unit": "einheit einheiten",
        "filler": "luft relativ wert ist lufttemperatur lufttemp grad und feuchte punkt",
        "generic": "raum innen intern kanal fuhler zimmer",
        "stamp": "zeitstempel zeitpunkt datum_zeit datum_uhrzeit messzeit*"},
    "fr": {
        "temp": "", "rh": "", "dew_point_c": "rosee", "wet_bulb_c": "bulbe_humide thermometre_mouille",
        "other_percent": "vanne niveau", "mixing_ratio_g_kg": "humidite_specifique melange",
        "vapour_pressure": "pression_de_vapeur", "heat_index_c": "ressentie", "lux": "eclair* lumiere luminosite",
        "co2_ppm": "dioxyde_de_carb*", "battery": "pile tension", "pressure_hpa": "pression", "wind_rain": "pluie",
        "setpoint": "consigne seuil", "min": "minimale", "max": "maximale", "mean": "moyenne",
        "date": "jour", "time": "heure temps", "number": "ligne", "probe": "piece salle sonde capteur lieu",
        "quantity": "grandeur parametre mesure", "value": "valeur", "unit": "unite unites",
        "filler": "relatif relative de la "
        "l moyenne", "generic": "interne interieur ambiant ambiante sonde",
        "stamp": "horodat* date_heure"},
    "es": {
        "rh": "humed*", "dew_point_c": "rocio", "wet_bulb_c": "bulbo_humedo", "moisture_percent": "suelo",
        "other_percent": "nivel", "lux": "luz ilumin* luminosidad", "co2_ppm": "dioxido_de_carb*", "signal": "senal",
        "battery": "bateria pila voltaje", "pressure_hpa": "presion", "heat_index_c": "sensacion*",
        "wind_rain": "lluvia viento",
        "setpoint": "consigna umbral alarma", "min": "minimo minima", "max": "maximo maxima", "mean": "promedio media",
        "date": "fecha dia", "time": "hora horario tiempo momento instante", "number": "numero",
        "probe": "canal sonda habitacion lugar ubicacion dispositivo", "quantity": "magnitud tipo",
        "value": "valor", "unit": "unidad unidades", "filler": "relativa aire del en grados",
        "generic": "ambiente sonda interno",
        "stamp": "marca_temporal marca_de_tiempo fecha_hora"},
    "ca": {"rh": "humit*", "heat_index_c": "sensacio", "dew_point_c": "rosada",
        "lux": "llum", "probe": "sala", "mean": "mitjana"},
    "pt": {
        "dew_point_c": "orvalho", "signal": "sinal", "battery": "tensao", "pressure_hpa": "pressao",
        "probe": "local posicao sala", "quantity": "grandeza medida", "unit": "unidade unidades",
        "filler": "ar do da graus",
        "stamp": "data_hora"},
    "it": {
        "rh": "*umid*", "dew_point_c": "rugiada punto_di_r*", "wet_bulb_c": "bulbo_umido",
        "absolute_humidity_g_m3": "assolut*", "heat_index_c": "percepita", "lux": "luce",
        "co2_ppm": "anidride_carb*", "signal": "segnale", "battery": "batteria tensione", "pressure_hpa": "pressione",
        "wind_rain": "vento", "setpoint": "valore_impostato soglia allarme", "max": "massimo massima",
        "date": "data giorno", "time": "ora orario tempo temporal", "number": "linea riga",
        "probe": "sensore stanza luogo canale", "quantity": "grandezza parametro misura", "value": "valore",
        "unit": "unita", "filler": "dell di aria gradi", "generic": "interna",
        "stamp": "data_ora"},
    "nl": {
        "rh": "*vochtig*", "dew_point_c": "dauwpunt*", "wet_bulb_c": "natte_bol*", "moisture_percent": "houtvocht*",
        "lux": "verlichting*", "co2_ppm": "koolstofdiox*", "battery": "accu batterij", "pressure_hpa": "druk luchtdruk",
        "setpoint": "setpunt", "min": "laagste", "max": "hoogste", "mean": "gemiddeld gemiddelde", "date": "dag",
        "time": "tijd klok", "number": "regel", "probe": "ruimte kamer locatie kanaal apparaat",
        "quantity": "grootheid", "value": "waarde meetwaarde", "unit": "eenheid eenheden",
        "filler": "relatieve lucht", "generic": "kamer",
        "stamp": "tijdstip datum_tijd"},
    "sv": {"rh": "*fukt*", "dew_point_c": "daggpunkt*", "moisture_percent": "fuktkvot", "lux": "ljus ljusstyrka",
           "battery": "batteri", "pressure_hpa": "tryck lufttryck", "setpoint": "borvarde", "min": "lagst lagsta",
           "max": "hogst hogsta", "mean": "medel medelvarde", "time": "tid klockslag tidpunkt", "probe": "rum",
           "value": "varde", "filler": "och"},
    "da, no": {"rh": "*fugt*", "dew_point_c": "dugpunkt* duggpunkt*", "lux": "lys",
           "pressure_hpa": "tryk lufttryk trykk",
           "mean": "gennemsnit middel gjennomsnitt", "date": "dato",
           "time": "tidspunkt klokkeslat", "filler": "og relativ",
           "value": "vardi",
           "min": "mindste laveste",
           "max": "storste største hoyeste høyeste"},
    "fi": {"temp": "*lampotil*", "rh": "*kosteu*", "dew_point_c": "kastepist*", "lux": "valo", "pressure_hpa": "*paine",
           "date": "pvm paivays", "time": "aika klo",
           "mean": "keskiarvo",
           "min": "pienin alin minimi",
           "max": "suurin ylin maksimi",
           "filler": "suhteellinen ilman"},
    "et": {"rh": "*niisk*", "dew_point_c": "kastepunkt*", "date": "kuupaev", "time": "aeg", "filler": "ohu suhteline",
           "mean": "keskmine"},
    "lv": {"rh": "mitrum*", "dew_point_c": "rasas_punkt*", "date": "datums", "time": "laiks",
           "mean": "videjais",
           "filler": "relativais"},
    "lt": {"rh": "dregm* dregnum*", "dew_point_c": "rasos_task*", "time": "laikas",
           "mean": "vidurkis",
           "filler": "santykine"},
    "pl": {"rh": "wilgotn*", "dew_point_c": "punkt_rosy", "lux": "oswietl*", "battery": "bateri* napiecie",
           "pressure_hpa": "cisnienie", "mean": "srednia", "time": "czas godzina", "filler": "powietrza wzgledna",
           "probe": "czujnik pokoj",
           "min": "minimaln*",
           "max": "maksim*"},
    "cs, sk": {"temp": "teplot*", "rh": "*vlhk*", "dew_point_c": "*rosn*", "pressure_hpa": "tlak", "lux": "osvetlen*",
               "time": "cas", "filler": "vzduchu relativni relativna", "mean": "prumer priemer"},
    "sl, hr": {"rh": "vlaznost* vlaga vlage vlaznosti", "dew_point_c": "rosisc* rosist*", "time": "ura vrijeme vreme",
               "lux": "svetlob* osvjetlj*", "filler": "zraka zrak relativna", "mean": "povprecje prosjek",
           "min": "najmanj*",
           "max": "najvec najvise"},
    "hu": {"temp": "*homersek*", "rh": "*paratart*", "dew_point_c": "harmatpont*", "time": "ido idopont",
           "mean": "atlag",
           "min": "legkisebb",
           "max": "legnagyobb",
           "filler": "relativ"},
    "ro": {"dew_point_c": "roua", "lux": "lumina", "battery": "baterie",
           "mean": "medie",
           "min": "minim minima",
           "max": "maxim maxima",
           "filler": "relativa"},
    "id": {"temp": "suhu", "rh": "kelembaban kelembapan", "date": "tanggal", "time": "waktu jam"},
    "tr": {"setpoint": "hedef", "temp": "*sıcakl* *sicakl*", "rh": "nem nemi", "dew_point_c": "ciy* ciğ*",
        "lux": "isik ısık",
           "date": "tarih", "time": "saat zaman",
           "mean": "ortalama",
           "min": "en_dusuk dusuk",
           "max": "en_yuksek yuksek",
           "filler": "bagıl nispi"},
    "el": {"temp": "*θερμοκρ*", "rh": "*υγρασ*", "dew_point_c": "δροσ*", "date": "ημερομηνια", "time": "ωρα",
           "mean": "μεσος μεση",
           "min": "ελαχιστ*",
           "max": "μεγιστ*",
           "filler": "ορος σχετικη"},
    "ru, bg": {"temp": "*темпер* темп", "rh": "*влажн*", "dew_point_c": "росы роса", "lux": "освещ* осветен*",
               "battery": "батар* напряжен*", "pressure_hpa": "давлен* налягане",
               "min": "мин миним*", "max": "макс максим*",
               "mean": "средн*", "date": "дата", "time": "время време", "probe": "датчик помещение",
               "filler": "воздуха отн относительная", "number": "номер №"},
    "uk": {"rh": "*волог*", "dew_point_c": "роси", "lux": "освітл*", "battery": "заряд", "pressure_hpa": "тиск",
           "time": "час", "filler": "повітря повітря вщносна відносна",
           "mean": "середн*",
           "min": "мінім*",
           "max": "максим*"},
    "he": {"temp": "טמפרטורה טמפרטור",
           "rh": "לחות", "dew_point_c": "נקודת_הטל נקודת_טל", "lux": "אור", "battery": "סוללה",
           "pressure_hpa": "לחץ", "min": "מינימו", "max": "מקסימו", "mean": "ממוצע", "date": "תאריך",
           "time": "שעה זמן",
           "filler": "יחסית האוויר"},
    "ar": {"temp": "حرارة", "rh": "رطوبة", "dew_point_c": "الندى", "lux": "الضوء", "battery": "بطارية",
           "min": "صغرى الأدنى",
           "pressure_hpa": "ضغط", "max": "عظمى الأعلى", "mean": "متوسط", "date": "تاريخ", "time": "وقت",
           "filler": "درجة ال نسبية"},
    "th": {"temp": "อุณหภูมิ", "rh": "ความชื้น", "dew_point_c": "จุดน้ำค้าง", "lux": "แสง", "battery": "แบตเตอรี่",
           "pressure_hpa": "ความดัน", "min": "ต่ำสุด", "max": "สูงสุด", "mean": "เฉลี่ย", "date": "วันที่",
           "time": "เวลา",
           "filler": "สัมพัทธ์ อากาศ ค่า"},
    "ko": {"temp": "온도 기온", "rh": "습도", "dew_point_c": "이슬점 노점", "lux": "조도", "battery": "배터리",
           "pressure_hpa": "기압", "min": "최저 최소", "max": "최고 최대", "mean": "평균", "date": "날짜 일자",
           "time": "시간 시각 일시",
           "filler": "상대"},
    "ja": {"temp": "気温 室温", "rh": "湿 相対湿", "wet_bulb_c": "湿球", "vapour_pressure": "水蒸気圧",
           "absolute_humidity_g_m3": "絶対", "co2_ppm": "二酸化炭素", "battery": "電池", "pressure_hpa": "気圧",
           "setpoint": "設定値", "date": "日付 年月日", "time": "時刻 時間", "number": "番号", "unit": "単位",
           "probe": "センサ 場所 チャンネル 部屋", "quantity": "項目 種類", "value": "値 測定値",
           "filler": "相対 室内",
        "stamp": "日時 時刻"},
    "zh": {"temp": "温度 溫度 气温 氣溫", "rh": "湿度 濕度 相对湿", "dew_point_c": "露点", "moisture_percent": "含水",
           "absolute_humidity_g_m3": "绝对", "mixing_ratio_g_kg": "混合比", "uv": "紫外", "lux": "照度 光照 光强 光量",
           "co2_ppm": "二氧化碳", "signal": "信号", "battery": "电池 电量", "pressure_hpa": "气压 大气压 压力",
           "setpoint": "设定", "min": "最低 最小", "max": "最高 最大", "mean": "平均",
           "date": "日期", "time": "时刻 时间",
           "number": "序号 番號 编号", "probe": "传感器 探头 位置 通道 房间 设备", "quantity": "项目 参数 类型",
           "value": "数值 测量值", "unit": "单位", "filler": "相对 空气",
        "stamp": "日时 日期时间 测量时间 记录时间"},
}  # fmt: skip


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


@lru_cache
def words(kind: str) -> tuple[str, ...]:
    """All words of one kind, of all languages, as the table has them."""
    return tuple(dict.fromkeys(plain(word) for table in HEADERS.values() for word in table.get(kind, "").split()))


def whole(kind: str) -> tuple[str, ...]:
    """The words of a kind as they are written in a header."""
    return tuple(word.strip("*").replace("_", " ") for word in words(kind))


@lru_cache
def pattern(*kinds: str) -> re.Pattern[str]:
    """One pattern for all words of some kinds, for plain texts."""
    found = []
    for word in sorted({word for kind in kinds for word in words(kind)}, key=len, reverse=True):
        spaced = all(ord(sign) < 0x590 for sign in word)  # scripts from Hebrew on join words, or part them nowhere
        bare = r"[\W_]*".join(map(re.escape, word.strip("*").split("_")))
        before = "" if not spaced or word[0] == "*" or not word[0].isalpha() else r"(?<![^\W\d_])"
        found.append(
            before + bare + ("" if not spaced or word[-1] == "*" or not word[-1].isalnum() else r"(?![^\W\d_])")
        )
    return re.compile("|".join(found))
