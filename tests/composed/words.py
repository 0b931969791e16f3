"""The words of composed files, by language: written for these tests alone, and not taken from the reader's own lists.

From memory of the languages; "one-byte" is a code page in which older programs write the language.
"""

from __future__ import annotations

from typing import NamedTuple


class Language(NamedTuple):
    """What a program in one language calls things."""

    one_byte: str
    stamp: tuple[str, ...]
    date: str
    time: str
    temp: tuple[str, ...]
    rh: tuple[str, ...]
    dew: str
    mean: str
    least: str
    most: str
    number: str
    end: str


def _language(row: str) -> tuple[str, Language]:
    code, page, *cells = (cell.strip() for cell in row.split("|"))
    stamp, date, time, temp, rh, *rest = cells
    some = [tuple(word.strip() for word in words.split(",")) for words in (stamp, temp, rh)]
    return code, Language(page, some[0], date, time, some[1], some[2], *rest)


# code | page | stamp | date | time | temperature | humidity | dew point | mean | least | most | row number | end
_ROWS = """
en|cp1252|Date/Time,Timestamp,Date and time,Recorded at|Date|Time|Temperature,Temp,Air temperature,Temp.|Relative humidity,Humidity,RH,Rel. humidity|Dew point|Average|Minimum|Maximum|No.|End of data
de|cp1252|Datum/Uhrzeit,Zeitstempel,Datum und Zeit,Messzeitpunkt|Datum|Uhrzeit|Temperatur,Temp.,Lufttemperatur|relative Luftfeuchte,Luftfeuchtigkeit,rel. Feuchte,rF|Taupunkt|Mittelwert|Minimum|Maximum|Nr.|Ende
fr|cp1252|Date et heure,Horodatage,Date/Heure|Date|Heure|Température,Temp.,Température de l'air|Humidité relative,Humidité,HR|Point de rosée|Moyenne|Minimum|Maximum|N°|Fin
es|cp1252|Fecha y hora,Fecha/Hora,Marca de tiempo|Fecha|Hora|Temperatura,Temp.|Humedad relativa,Humedad,HR|Punto de rocío|Promedio|Mínimo|Máximo|N.º|Fin
it|cp1252|Data e ora,Data/Ora|Data|Ora|Temperatura,Temp.,Temperatura aria|Umidità relativa,Umidità,UR|Punto di rugiada|Media|Minimo|Massimo|N.|Fine
pt|cp1252|Data e hora,Data/Hora|Data|Hora|Temperatura,Temp.|Umidade relativa,Humidade,UR|Ponto de orvalho|Média|Mínimo|Máximo|N.º|Fim
nl|cp1252|Datum en tijd,Tijdstip|Datum|Tijd|Temperatuur,Temp.|Relatieve vochtigheid,Luchtvochtigheid,RV|Dauwpunt|Gemiddelde|Minimum|Maximum|Nr.|Einde
sv|cp1252|Datum och tid,Tidpunkt|Datum|Tid|Temperatur,Lufttemperatur|Relativ luftfuktighet,Luftfuktighet,RF|Daggpunkt|Medel|Lägsta|Högsta|Nr|Slut
da|cp1252|Dato og tid,Tidspunkt|Dato|Klokkeslæt|Temperatur,Lufttemperatur|Relativ luftfugtighed,Luftfugtighed,RF|Dugpunkt|Gennemsnit|Mindste|Største|Nr.|Slut
no|cp1252|Dato og tid,Tidspunkt|Dato|Klokkeslett|Temperatur,Lufttemperatur|Relativ luftfuktighet,Luftfuktighet|Duggpunkt|Gjennomsnitt|Laveste|Høyeste|Nr.|Slutt
fi|cp1252|Päivämäärä ja aika,Aikaleima|Päivämäärä|Kellonaika|Lämpötila|Suhteellinen kosteus,Ilmankosteus|Kastepiste|Keskiarvo|Pienin|Suurin|Nro|Loppu
pl|cp1250|Data i godzina,Data/Godzina,Data i czas|Data|Godzina|Temperatura,Temp.|Wilgotność względna,Wilgotność|Punkt rosy|Średnia|Minimum|Maksimum|Lp.|Koniec
cs|cp1250|Datum a čas|Datum|Čas|Teplota|Relativní vlhkost,Vlhkost|Rosný bod|Průměr|Minimum|Maximum|Č.|Konec
sk|cp1250|Dátum a čas|Dátum|Čas|Teplota|Relatívna vlhkosť,Vlhkosť|Rosný bod|Priemer|Minimum|Maximum|Č.|Koniec
sl|cp1250|Datum in čas|Datum|Čas|Temperatura|Relativna vlažnost,Vlažnost|Rosišče|Povprečje|Najmanj|Največ|Št.|Konec
hr|cp1250|Datum i vrijeme|Datum|Vrijeme|Temperatura|Relativna vlažnost,Vlažnost|Rosište|Prosjek|Najmanje|Najviše|Br.|Kraj
hu|cp1250|Dátum és idő,Időpont|Dátum|Idő|Hőmérséklet|Relatív páratartalom,Páratartalom|Harmatpont|Átlag|Legkisebb|Legnagyobb|Sorszám|Vége
ro|cp1250|Data şi ora|Data|Ora|Temperatură,Temperatura|Umiditate relativă,Umiditate|Punct de rouă|Medie|Minim|Maxim|Nr.|Sfârşit
ca|cp1252|Data i hora|Data|Hora|Temperatura|Humitat relativa,Humitat|Punt de rosada|Mitjana|Mínim|Màxim|Núm.|Fi
uk|cp1251|Дата і час|Дата|Час|Температура|Відносна вологість,Вологість|Точка роси|Середнє|Мінімум|Максимум|№|Кінець
ru|cp1251|Дата и время|Дата|Время|Температура|Относительная влажность,Влажность|Точка росы|Среднее|Минимум|Максимум|№|Конец
el|cp1253|Ημερομηνία και ώρα|Ημερομηνία|Ώρα|Θερμοκρασία|Σχετική υγρασία,Υγρασία|Σημείο δρόσου|Μέσος όρος|Ελάχιστο|Μέγιστο|Α/Α|Τέλος
tr|cp1254|Tarih ve saat,Tarih/Saat|Tarih|Saat|Sıcaklık|Bağıl nem,Nem|Çiy noktası|Ortalama|En düşük|En yüksek|No|Son
he|cp1255|תאריך ושעה|תאריך|שעה|טמפרטורה|לחות יחסית,לחות|נקודת טל|ממוצע|מינימום|מקסימום|מס'|סוף
ar|cp1256|التاريخ والوقت|التاريخ|الوقت|درجة الحرارة,الحرارة|الرطوبة النسبية,الرطوبة|نقطة الندى|المتوسط|الأدنى|الأعلى|رقم|النهاية
th|cp874|วันที่และเวลา|วันที่|เวลา|อุณหภูมิ|ความชื้นสัมพัทธ์,ความชื้น|จุดน้ำค้าง|ค่าเฉลี่ย|ต่ำสุด|สูงสุด|ลำดับ|จบ
ko|cp949|날짜 및 시간,일시|날짜|시간|온도|상대습도,습도|이슬점|평균|최소|최대|번호|끝
ja|cp932|日時,測定日時|日付|時刻|温度,気温|湿度,相対湿度|露点|平均|最小|最大|番号|終了
zh|gb18030|日期时间,时间,记录时间|日期|时间|温度|湿度,相对湿度|露点|平均|最小|最大|序号|结束
""".strip().splitlines()  # noqa: E501
LANGUAGES = dict(map(_language, _ROWS))
COMMON = ("en", "de", "fr", "es", "it", "nl", "pt")  # half of the files

# rooms whose names hold a quantity's word, a statistic, a unit or a time
TELLING_ROOMS = (
    "Lichtsaal", "Druckerei", "Batterieraum", "IAQ", "Feuchtwanger", "Temple", "Tempelhof", "Humboldtsaal", "Windfang",
    "Light Hall", "Pressroom", "Battery House", "Volta", "Salle Lumière", "Sala de la Luz", "Zeitsaal", "Minden",
    "Maximilian", "Ventilatorraum", "Cloudesley", "Regenhalle", "Solltal", "Ladungssaal", "Kaltenbach",
    "Dewsbury", "Taunusraum", "Signal Tower", "Speicher", "Datenraum", "Uhrensaal", "Voltaire", "Pmraum",
    "CO2 Labor", "Rosenau", "Mittelsaal", "Fan Gallery", "Luxemburg", "Humphrey", "Meanwood", "Klimakammer",
)  # fmt: skip
ROOMS = ("Attic", "Cellar", "North store", "Depot 3", "Saal 2", "Salle B", "Capella", "Sacristy", "Kapelle", "Room 12",
         "Magazin", "Studio", "West wing", "Oberes Depot", "A", "B 1")  # fmt: skip
MISSING = ("", "", "NA", "N/A", "NaN", "---", "null", "None", "-", "#N/A")
FAULTS = ("Err", "ERROR", "Fehler", "-9999", "-200", "999.9", "OL", "open", "Hi", "###")
MONTHS = {
    "en": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", "de": "Jan Feb Mrz Apr Mai Jun Jul Aug Sep Okt Nov Dez",
    "fr": "janv févr mars avr mai juin juil août sept oct nov déc",
    "es": "ene feb mar abr may jun jul ago sep oct nov dic", "it": "gen feb mar apr mag giu lug ago set ott nov dic",
    "nl": "jan feb mrt apr mei jun jul aug sep okt nov dec", "pt": "jan fev mar abr mai jun jul ago set out nov dez",
}  # fmt: skip
HALVES = {"en": ("AM", "PM"), "es": ("a. m.", "p. m."), "ko": ("오전", "오후"), "ja": ("午前", "午後"),
          "zh": ("上午", "下午"),          "el": ("π.μ.", "μ.μ.")}  # fmt: skip
