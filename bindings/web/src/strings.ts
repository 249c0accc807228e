import { own } from "./own.js";

/** What the element itself says. A page may add languages or change sentences: see `Strings` and README.md. */

export const english = {
  cautions: "Cautions",
  cautionsFirst: "Read these before the first test. They hold for all work on this machine.",
  cautionsAgain: "Cautions for all work",
  cautionsTest: "For this test, besides the cautions for all work",
  complaint: "What is wrong?",
  complaintHelp: "Choose what the operator reports, then what was seen.",
  symptom: "Symptom",
  choose: "Choose one",
  seen: "What was seen",
  nothingSeen: "Nothing has been entered yet.",
  takeBack: "Take back",
  replaced: "Replaced: {parts}",
  tests: "Next tests",
  testsHelp:
    "Best first: the one that pays most, then by what each tells about the cause for its minutes, tests without power before those with it.",
  noTests: "No test is left that could tell more.",
  moreTests: "Show {count} more",
  minutes: "{minutes} min",
  energised: "power on or load left up",
  powerOff: "power off",
  why: "Why this test",
  tells: "What each outcome would tell",
  tellsLine: "{outcome}, {percent}: {suspects}",
  tellsWaiting: "Being worked out",
  tellsUnknown: "Without a connection only the probabilities can be shown.",
  setup: "Before it",
  afterwards: "Afterwards",
  setupDone: "Tick what is done.",
  pressure: "Test pressure",
  pressureUnknown: "from the maker's documents",
  bring: "Bring",
  rated: "rated for {pressure}",
  result: "Result",
  outcome: "Outcome",
  enterReading: "Enter a reading instead",
  measured: "Measured",
  enter: "Enter result",
  enterSymptom: "Enter symptom",
  mustChoose: "Choose an outcome or fill in a reading.",
  mustNumber: "{field}: “{value}” is no number. Write it as 12 or 12.5.",
  mustFill: "{field} is missing.",
  causes: "Probable cause",
  cause: "Cause",
  share: "Share",
  causeByDesign: "what leaks although all is sound",
  causeElsewhere: "something the circuit document does not describe",
  causeNothing: "nothing wrong found: a false report",
  causeRest: "Everything else together: {percent}",
  suspects: "Suspects",
  part: "Part",
  odds: "Odds",
  oddsFor: "{odds} : 1 for",
  oddsAgainst: "{odds} : 1 against",
  certain: "certain",
  others: "{count} more, none above {percent}",
  order: "What to order",
  orderNone: "Enter a symptom first.",
  orderTest: "Not yet: a test is worth more. First: {test}.",
  orderAgain: "Not yet: what was seen contradicts itself. Look again first at: {test}.",
  orderStop: "Testing can stop.",
  orderRisk: "Probability that the fault is elsewhere: {percent}",
  orderCost: "Cost with labour and downtime: {cost}",
  orderButton: "Put these parts on the order",
  orderNothing: "Nothing needs to be replaced.",
  replacedButton: "These parts have been replaced",
  verify: "After the repair",
  working: "Working out the ranking …",
  ready: "Ranking is up to date: {count} tests.",
  readyNext: "Ranking is up to date. Next: {test}.",
  offline: "No connection. What you enter is kept; the ranking is the one from {time}.",
  offlineNew: "No connection, and nothing to show yet. What you enter is kept.",
  refused: "This was not taken: {message}",
  tryAgain: "Try again",
  byServer: "Computed by the server.",
  byDevice: "Computed on this device; the server does not answer.",
  prepared: "It can be worked on without a connection.",
  unsent: "Not stored yet: kept on this device, sent when there is a connection.",
  elsewhere: "Entered elsewhere meanwhile",
  elsewhereHelp: "Somebody else entered this in the same work order. It counts too.",
  twice: "Entered here and elsewhere with different results. Take back what is wrong.",
  wrongHere: "Take back “{value}”, entered here",
  wrongElsewhere: "Take back “{value}”, entered elsewhere",
  bothRight: "Both were seen",
  understood: "Understood",
  printed: "Ranking of {time}",
  readings: {
    leak_rate: "Leak rate",
    pressure_drop: "Pressure drop over time",
    supply_flow: "Flow that holds a pressure",
    below: "Nothing seen; leak is below",
    drift: "Distance over time",
    flow: "Flow",
  } as Record<string, string>,
  fields: {
    leak_rate: "Leak rate",
    pressure_drop: "Pressure drop",
    time: "Time",
    volume: "Trapped volume",
    temperature_start: "Oil temperature at start (optional)",
    temperature_end: "Oil temperature at end (optional)",
    supply_flow: "Flow",
    pressure: "Pressure",
    below: "Leak is below",
    distance: "Distance",
    flow: "Flow",
  } as Record<string, string>,
  unit: "Unit of {field}",
  outcomes: {
    held: "held",
    bled_down: "bled down",
    would_not_build: "would not build",
    none: "none",
    slow: "slow",
    fast: "fast",
    normal: "normal",
    stalled: "stalled",
    low: "low",
    very_low: "very low",
    dry: "dry",
    wet: "wet",
    drips: "drips",
    warm: "warm",
    hot: "hot",
  } as Record<string, string>,
  cautionTexts: {} as Record<string, string>,
};

export type Strings = typeof english;

const german: Strings = {
  cautions: "Warnhinweise",
  cautionsFirst: "Vor der ersten Prüfung lesen. Sie gelten für alle Arbeiten an dieser Maschine.",
  cautionsAgain: "Warnhinweise für alle Arbeiten",
  cautionsTest: "Für diese Prüfung, zusätzlich zu den Warnhinweisen für alle Arbeiten",
  complaint: "Was ist los?",
  complaintHelp: "Wählen Sie, was gemeldet wurde, und dann, was zu sehen war.",
  symptom: "Symptom",
  choose: "Bitte wählen",
  seen: "Was festgestellt wurde",
  nothingSeen: "Noch nichts eingetragen.",
  takeBack: "Zurücknehmen",
  replaced: "Ersetzt: {parts}",
  tests: "Nächste Prüfungen",
  testsHelp:
    "Die beste zuerst: die sich am meisten lohnt, dann nach dem, was jede in ihren Minuten über die Ursache sagt; solche ohne Energie vor solchen unter Energie.",
  noTests: "Es gibt keine Prüfung mehr, die mehr sagen könnte.",
  moreTests: "{count} weitere zeigen",
  minutes: "{minutes} min",
  energised: "unter Energie oder mit angehobener Last",
  powerOff: "ohne Energie",
  why: "Warum diese Prüfung",
  tells: "Was jedes Ergebnis sagen würde",
  tellsLine: "{outcome}, {percent}: {suspects}",
  tellsWaiting: "Wird berechnet",
  tellsUnknown: "Ohne Verbindung können nur die Wahrscheinlichkeiten gezeigt werden.",
  setup: "Vorher",
  afterwards: "Danach",
  setupDone: "Abhaken, was getan ist.",
  pressure: "Prüfdruck",
  pressureUnknown: "aus den Unterlagen des Herstellers",
  bring: "Mitbringen",
  rated: "zugelassen für {pressure}",
  result: "Ergebnis",
  outcome: "Befund",
  enterReading: "Stattdessen einen Messwert eintragen",
  measured: "Gemessen",
  enter: "Ergebnis eintragen",
  enterSymptom: "Symptom eintragen",
  mustChoose: "Wählen Sie einen Befund oder tragen Sie einen Messwert ein.",
  mustNumber: "{field}: „{value}“ ist keine Zahl. Schreiben Sie 12 oder 12,5.",
  mustFill: "{field} fehlt.",
  causes: "Wahrscheinliche Ursache",
  cause: "Ursache",
  share: "Anteil",
  causeByDesign: "was auch in gutem Zustand leckt",
  causeElsewhere: "etwas, das im Plan des Kreislaufs nicht steht",
  causeNothing: "kein Fehler gefunden: eine falsche Meldung",
  causeRest: "Alles andere zusammen: {percent}",
  suspects: "Verdächtige",
  part: "Teil",
  odds: "Chancen",
  oddsFor: "{odds} : 1 dafür",
  oddsAgainst: "{odds} : 1 dagegen",
  certain: "sicher",
  others: "{count} weitere, keiner über {percent}",
  order: "Was zu bestellen ist",
  orderNone: "Tragen Sie zuerst ein Symptom ein.",
  orderTest: "Noch nicht: Eine Prüfung ist mehr wert. Zuerst: {test}.",
  orderAgain: "Noch nicht: Was gesehen wurde, widerspricht sich. Zuerst noch einmal ansehen: {test}.",
  orderStop: "Es muss nicht weiter geprüft werden.",
  orderRisk: "Wahrscheinlichkeit, dass der Fehler woanders liegt: {percent}",
  orderCost: "Kosten mit Arbeit und Stillstand: {cost}",
  orderButton: "Diese Teile auf die Bestellung setzen",
  orderNothing: "Es muss nichts ersetzt werden.",
  replacedButton: "Diese Teile sind ersetzt",
  verify: "Nach der Reparatur",
  working: "Die Rangfolge wird berechnet …",
  ready: "Die Rangfolge ist aktuell: {count} Prüfungen.",
  readyNext: "Die Rangfolge ist aktuell. Als Nächstes: {test}.",
  offline: "Keine Verbindung. Einträge bleiben erhalten; die Rangfolge ist die von {time}.",
  offlineNew: "Keine Verbindung und noch nichts anzuzeigen. Einträge bleiben erhalten.",
  refused: "Das wurde nicht angenommen: {message}",
  tryAgain: "Erneut versuchen",
  byServer: "Vom Server berechnet.",
  byDevice: "Auf diesem Gerät berechnet; der Server antwortet nicht.",
  prepared: "Auch ohne Verbindung kann weitergearbeitet werden.",
  unsent: "Noch nicht gespeichert: liegt auf diesem Gerät und wird bei Verbindung gesendet.",
  elsewhere: "Inzwischen anderswo eingetragen",
  elsewhereHelp: "Jemand anders hat dies im selben Auftrag eingetragen. Es zählt mit.",
  twice: "Hier und anderswo mit verschiedenen Ergebnissen eingetragen. Nehmen Sie zurück, was falsch ist.",
  wrongHere: "„{value}“, hier eingetragen, zurücknehmen",
  wrongElsewhere: "„{value}“, anderswo eingetragen, zurücknehmen",
  bothRight: "Beides wurde gesehen",
  understood: "Verstanden",
  printed: "Rangfolge von {time}",
  readings: {
    leak_rate: "Leckrate",
    pressure_drop: "Druckabfall über die Zeit",
    supply_flow: "Volumenstrom, der einen Druck hält",
    below: "Nichts zu sehen; Leckage liegt unter",
    drift: "Weg über die Zeit",
    flow: "Volumenstrom",
  },
  fields: {
    leak_rate: "Leckrate",
    pressure_drop: "Druckabfall",
    time: "Zeit",
    volume: "Eingeschlossenes Volumen",
    temperature_start: "Öltemperatur am Anfang (wahlweise)",
    temperature_end: "Öltemperatur am Ende (wahlweise)",
    supply_flow: "Volumenstrom",
    pressure: "Druck",
    below: "Leckage liegt unter",
    distance: "Weg",
    flow: "Volumenstrom",
  },
  unit: "Einheit: {field}",
  outcomes: {
    held: "gehalten",
    bled_down: "abgefallen",
    would_not_build: "kein Aufbau",
    none: "keines",
    slow: "langsam",
    fast: "schnell",
    normal: "normal",
    stalled: "steht",
    low: "niedrig",
    very_low: "sehr niedrig",
    dry: "trocken",
    wet: "nass",
    drips: "tropft",
    warm: "warm",
    hot: "heiß",
  },
  cautionTexts: {
    "Lock out and tag out every source of energy before anything is opened, and try the controls to prove that nothing moves.":
      "Vor jedem Öffnen alle Energiequellen freischalten, gegen Wiedereinschalten sichern und kennzeichnen; an den Bedienteilen prüfen, dass sich nichts bewegt.",
    "Lower the load to its stops or block it mechanically. Trapped oil does not hold a load that somebody works under.":
      "Die Last bis auf ihre Anschläge absenken oder mechanisch abstützen. Eingeschlossenes Öl hält keine Last, unter der jemand arbeitet.",
    "Release stored energy (raised loads, springs, accumulators, trapped pressure) in the way the maker prescribes and verify zero pressure where you work; go on verifying where it can build up again.":
      "Gespeicherte Energie (angehobene Lasten, Federn, Speicher, eingeschlossenen Druck) nach Vorschrift des Herstellers abbauen und Druckfreiheit an der Arbeitsstelle prüfen; weiter prüfen, wo sich Druck wieder aufbauen kann.",
    "Never open a line or let oil out to atmosphere while the machine is under power.":
      "Niemals eine Leitung öffnen oder Öl ins Freie lassen, während die Maschine unter Energie steht.",
    "Oil under pressure goes through skin. Never feel for a leak by hand; any injection, however small it looks, is a surgical emergency: go to hospital at once.":
      "Öl unter Druck durchdringt die Haut. Niemals mit der Hand nach einem Leck tasten; jede Einspritzung, so klein sie aussieht, ist ein chirurgischer Notfall: sofort ins Krankenhaus.",
    "Follow the maker's instructions, local codes and licensed practice. These notes add to them and replace none of them.":
      "Anweisungen des Herstellers, örtliche Vorschriften und zugelassene Praxis befolgen. Diese Hinweise ergänzen sie und ersetzen keine davon.",
    "Oil may be hot enough to scald: let it cool before a line is opened. Oil that cools while it is held loses pressure without a leak.":
      "Öl kann so heiß sein, dass es verbrüht: abkühlen lassen, bevor eine Leitung geöffnet wird. Öl, das während der Haltezeit abkühlt, verliert Druck auch ohne Leck.",
    "Not all that the pressure reaches is known: take the test pressure from the maker's documents and stay within the rating of everything that is pressurised.":
      "Nicht alles, was der Druck erreicht, ist bekannt: den Prüfdruck den Unterlagen des Herstellers entnehmen und innerhalb der Zulassung von allem bleiben, was unter Druck steht.",
    "A piston stands between two closed volumes: the smaller side takes more than the test pressure. Stay at or below the test pressure, and verify zero on both sides afterwards.":
      "Ein Kolben steht zwischen zwei geschlossenen Räumen: die kleinere Seite bekommt mehr als den Prüfdruck. Den Prüfdruck nicht überschreiten und danach auf beiden Seiten prüfen, dass kein Druck ansteht.",
    "A load-holding valve traps pressure between itself and the piston, and keeps it when everything else is without pressure. Release it as the maker prescribes and verify zero there before anything is opened.":
      "Ein Lasthalteventil schließt Druck zwischen sich und dem Kolben ein und hält ihn, wenn alles andere drucklos ist. Diesen Druck nach Vorschrift des Herstellers ablassen und dort prüfen, dass kein Druck ansteht, bevor etwas geöffnet wird.",
    "The pressure can turn a pump's or motor's shaft: hold the shaft or take it off its load, and keep clear of what it drives.":
      "Der Druck kann die Welle einer Pumpe oder eines Motors drehen: die Welle festhalten oder von ihrer Last trennen und sich vom Angetriebenen fernhalten.",
    "Gas in an accumulator stores energy: shut it off, discharge its oil side and verify zero before anything is opened.":
      "Gas in einem Speicher enthält Energie: den Speicher absperren, seine Ölseite entlasten und prüfen, dass kein Druck ansteht, bevor etwas geöffnet wird.",
    "The pressure can reach brakes or steering: before the machine is used again, bleed them and check that they work.":
      "Der Druck kann Bremsen oder Lenkung erreichen: vor dem Einsatz der Maschine entlüften und prüfen, dass sie arbeiten.",
    "Adapters, hoses, gauge and plugs must be rated for at least the test pressure.":
      "Adapter, Schläuche, Manometer und Stopfen müssen mindestens für den Prüfdruck zugelassen sein.",
    "Fill and bleed before raising pressure, raise it in steps from a source that stores little energy, such as a hand pump, and stand clear of the joints.":
      "Vor dem Druckaufbau füllen und entlüften, den Druck in Stufen aus einer Quelle mit wenig gespeicherter Energie aufbauen, etwa einer Handpumpe, und Abstand von den Verbindungen halten.",
    "Plug the line end that was taken off. Bring the pressure back to zero before any joint is touched again.":
      "Das abgenommene Leitungsende verschließen. Den Druck auf null bringen, bevor eine Verbindung wieder berührt wird.",
    "The piston must be bottomed in the direction the pressure pushes it, or the load held mechanically, before pressure is applied: the opposite port is open and the actuator can move.":
      "Vor dem Druckaufbau muss der Kolben in der Richtung, in die der Druck ihn schiebt, am Anschlag stehen oder die Last mechanisch gehalten sein: Der gegenüberliegende Anschluss ist offen und der Antrieb kann sich bewegen.",
    "Adapters at the actuator's ports must be rated for the test pressure. Lead the open port to a container and keep clear of it.":
      "Adapter an den Anschlüssen des Antriebs müssen für den Prüfdruck zugelassen sein. Den offenen Anschluss in einen Behälter führen und Abstand davon halten.",
    "The pressure reaches an actuator and can move it: before it is applied, hold what the actuator moves mechanically, or have it at the end of its stroke in the direction the pressure pushes it. Oil trapped on its other side can stand at more than the test pressure.":
      "Der Druck erreicht einen Antrieb und kann ihn bewegen: Vorher mechanisch halten, was der Antrieb bewegt, oder ihn in der Richtung, in die der Druck schiebt, ans Ende seines Hubs bringen. Auf seiner anderen Seite eingeschlossenes Öl kann unter mehr als dem Prüfdruck stehen.",
    "The cavity plug must be made for that cavity and rated for the test pressure.":
      "Der Stopfen muss für diese Einschraubbohrung gemacht und für den Prüfdruck zugelassen sein.",
    "The part that was taken out no longer protects or holds this port: stay at or below the test pressure and refit it before the machine gets power.":
      "Das ausgebaute Teil schützt und hält diesen Anschluss nicht mehr: höchstens bis zum Prüfdruck gehen und das Teil wieder einbauen, bevor die Maschine Energie bekommt.",
    "In service this port is open to tank: it and what is joined to it may stand low pressure only. Take the test pressure from the maker's documents.":
      "Im Betrieb ist dieser Anschluss zum Tank offen: Er und was daran angeschlossen ist, halten vielleicht nur niedrigen Druck aus. Den Prüfdruck den Unterlagen des Herstellers entnehmen.",
    "The load is left up while its drift is measured: nobody stands under it or in its path, and the area is closed off until it is lowered again.":
      "Die Last bleibt oben, während ihr Absinken gemessen wird: Niemand steht darunter oder in ihrem Weg, und der Bereich ist abgesperrt, bis sie wieder abgesenkt ist.",
    "Measure from a safe place; open nothing while the load is up.":
      "Von einem sicheren Ort aus messen; nichts öffnen, solange die Last oben ist.",
    "The machine runs during this test: guards stay on, everybody stays clear of what moves, and nothing is opened or tightened.":
      "Die Maschine läuft während dieser Prüfung: Schutzeinrichtungen bleiben dran, alle halten Abstand von dem, was sich bewegt, und nichts wird geöffnet oder nachgezogen.",
    "Fit and remove the flow meter with the machine locked out and at zero pressure. The oil stays in a closed line; it is never measured into the open.":
      "Den Durchflussmesser nur bei freigeschalteter, gesicherter und druckloser Maschine ein- und ausbauen. Das Öl bleibt in einer geschlossenen Leitung; niemals ins Freie messen.",
    "Meter, hoses and adapters must be rated for the full pressure and flow. Start with the load valve fully open and make sure that a relief protects the line; load it slowly.":
      "Messgerät, Schläuche und Adapter müssen für vollen Druck und Volumenstrom zugelassen sein. Mit ganz offenem Lastventil beginnen und sicherstellen, dass ein Druckbegrenzungsventil die Leitung schützt; langsam belasten.",
    "Look with the machine off and the load down, with a lamp and a piece of card, not with the hand: a jet may be too fine to be seen.":
      "Bei abgestellter Maschine und abgesenkter Last mit Lampe und einem Stück Karton suchen, nicht mit der Hand: Ein Strahl kann zu fein sein, um ihn zu sehen.",
    "Measure without touching, or with a probe on a long lead, from where nothing moves: a valve that passes oil can be hot enough to burn.":
      "Berührungslos oder mit einem Fühler an langer Leitung messen, von einem Ort aus, an dem sich nichts bewegt: Ein Ventil, durch das Öl geht, kann so heiß sein, dass man sich verbrennt.",
  },
};

const spanish: Strings = {
  cautions: "Advertencias",
  cautionsFirst: "Léalas antes de la primera prueba. Valen para todo trabajo en esta máquina.",
  cautionsAgain: "Advertencias para todo trabajo",
  cautionsTest: "Para esta prueba, además de las advertencias para todo trabajo",
  complaint: "¿Qué ocurre?",
  complaintHelp: "Elija lo que informa el operador y luego lo que se vio.",
  symptom: "Síntoma",
  choose: "Elija uno",
  seen: "Lo observado",
  nothingSeen: "Aún no se ha anotado nada.",
  takeBack: "Retirar",
  replaced: "Sustituido: {parts}",
  tests: "Próximas pruebas",
  testsHelp:
    "La mejor primero: la que más conviene y luego lo que cada una dice de la causa por sus minutos; las que son sin energía antes que las que la necesitan.",
  noTests: "No queda ninguna prueba que pueda decir más.",
  moreTests: "Mostrar {count} más",
  minutes: "{minutes} min",
  energised: "con energía o con la carga en alto",
  powerOff: "sin energía",
  why: "Por qué esta prueba",
  tells: "Qué diría cada resultado",
  tellsLine: "{outcome}, {percent}: {suspects}",
  tellsWaiting: "Calculando",
  tellsUnknown: "Sin conexión solo se pueden mostrar las probabilidades.",
  setup: "Antes",
  afterwards: "Después",
  setupDone: "Marque lo que está hecho.",
  pressure: "Presión de prueba",
  pressureUnknown: "según la documentación del fabricante",
  bring: "Llevar",
  rated: "apto para {pressure}",
  result: "Resultado",
  outcome: "Hallazgo",
  enterReading: "Anotar una medición en su lugar",
  measured: "Medido",
  enter: "Anotar resultado",
  enterSymptom: "Anotar síntoma",
  mustChoose: "Elija un hallazgo o anote una medición.",
  mustNumber: "{field}: «{value}» no es un número. Escriba 12 o 12,5.",
  mustFill: "Falta: {field}.",
  causes: "Causa probable",
  cause: "Causa",
  share: "Parte",
  causeByDesign: "lo que fuga aunque todo esté en buen estado",
  causeElsewhere: "algo que el documento del circuito no describe",
  causeNothing: "nada anormal: un aviso falso",
  causeRest: "Todo lo demás junto: {percent}",
  suspects: "Sospechosos",
  part: "Pieza",
  odds: "Razón",
  oddsFor: "{odds} : 1 a favor",
  oddsAgainst: "{odds} : 1 en contra",
  certain: "seguro",
  others: "{count} más, ninguno por encima de {percent}",
  order: "Qué pedir",
  orderNone: "Anote primero un síntoma.",
  orderTest: "Todavía no: una prueba vale más. Primero: {test}.",
  orderAgain: "Todavía no: lo observado se contradice. Primero, vuelva a mirar: {test}.",
  orderStop: "Se puede dejar de probar.",
  orderRisk: "Probabilidad de que la falla esté en otra parte: {percent}",
  orderCost: "Costo con mano de obra y parada: {cost}",
  orderButton: "Poner estas piezas en el pedido",
  orderNothing: "No hace falta sustituir nada.",
  replacedButton: "Estas piezas ya se sustituyeron",
  verify: "Después de la reparación",
  working: "Calculando el orden …",
  ready: "El orden está al día: {count} pruebas.",
  readyNext: "El orden está al día. Siguiente: {test}.",
  offline: "Sin conexión. Lo que anote se conserva; el orden es el de las {time}.",
  offlineNew: "Sin conexión y aún sin nada que mostrar. Lo que anote se conserva.",
  refused: "No se aceptó: {message}",
  tryAgain: "Reintentar",
  byServer: "Calculado por el servidor.",
  byDevice: "Calculado en este dispositivo; el servidor no responde.",
  prepared: "Se puede seguir trabajando sin conexión.",
  unsent: "Aún sin guardar: está en este dispositivo y se enviará cuando haya conexión.",
  elsewhere: "Anotado entretanto en otro lugar",
  elsewhereHelp: "Otra persona anotó esto en la misma orden. También cuenta.",
  twice: "Anotado aquí y en otro lugar con resultados distintos. Retire lo que esté mal.",
  wrongHere: "Retirar «{value}», anotado aquí",
  wrongElsewhere: "Retirar «{value}», anotado en otro lugar",
  bothRight: "Se vieron ambos",
  understood: "Entendido",
  printed: "Orden de las {time}",
  readings: {
    leak_rate: "Caudal de fuga",
    pressure_drop: "Caída de presión en el tiempo",
    supply_flow: "Caudal que mantiene una presión",
    below: "Nada visible; la fuga es menor que",
    drift: "Distancia en el tiempo",
    flow: "Caudal",
  },
  fields: {
    leak_rate: "Caudal de fuga",
    pressure_drop: "Caída de presión",
    time: "Tiempo",
    volume: "Volumen atrapado",
    temperature_start: "Temperatura del aceite al inicio (opcional)",
    temperature_end: "Temperatura del aceite al final (opcional)",
    supply_flow: "Caudal",
    pressure: "Presión",
    below: "La fuga es menor que",
    distance: "Distancia",
    flow: "Caudal",
  },
  unit: "Unidad: {field}",
  outcomes: {
    held: "se mantuvo",
    bled_down: "cayó",
    would_not_build: "no subió",
    none: "ninguno",
    slow: "lento",
    fast: "rápido",
    normal: "normal",
    stalled: "detenido",
    low: "bajo",
    very_low: "muy bajo",
    dry: "seco",
    wet: "mojado",
    drips: "gotea",
    warm: "tibio",
    hot: "caliente",
  },
  cautionTexts: {
    "Lock out and tag out every source of energy before anything is opened, and try the controls to prove that nothing moves.":
      "Bloquee y etiquete toda fuente de energía antes de abrir nada, y accione los mandos para comprobar que nada se mueve.",
    "Lower the load to its stops or block it mechanically. Trapped oil does not hold a load that somebody works under.":
      "Baje la carga hasta sus topes o apuntálela mecánicamente. El aceite atrapado no sostiene una carga bajo la que alguien trabaja.",
    "Release stored energy (raised loads, springs, accumulators, trapped pressure) in the way the maker prescribes and verify zero pressure where you work; go on verifying where it can build up again.":
      "Libere la energía acumulada (cargas en alto, resortes, acumuladores, presión atrapada) como prescribe el fabricante y verifique presión cero donde trabaja; siga verificando donde pueda volver a formarse.",
    "Never open a line or let oil out to atmosphere while the machine is under power.":
      "Nunca abra una línea ni deje salir aceite a la atmósfera con la máquina energizada.",
    "Oil under pressure goes through skin. Never feel for a leak by hand; any injection, however small it looks, is a surgical emergency: go to hospital at once.":
      "El aceite a presión atraviesa la piel. Nunca busque una fuga con la mano; toda inyección, por pequeña que parezca, es una urgencia quirúrgica: vaya de inmediato al hospital.",
    "Follow the maker's instructions, local codes and licensed practice. These notes add to them and replace none of them.":
      "Siga las instrucciones del fabricante, las normas locales y la práctica autorizada. Estas notas se suman a ellas y no sustituyen ninguna.",
    "Oil may be hot enough to scald: let it cool before a line is opened. Oil that cools while it is held loses pressure without a leak.":
      "El aceite puede estar tan caliente que escalde: deje que se enfríe antes de abrir una línea. El aceite que se enfría mientras se mantiene la presión la pierde sin que haya fuga.",
    "Not all that the pressure reaches is known: take the test pressure from the maker's documents and stay within the rating of everything that is pressurised.":
      "No se conoce todo lo que alcanza la presión: tome la presión de prueba de la documentación del fabricante y no supere lo que admite todo lo que queda bajo presión.",
    "A piston stands between two closed volumes: the smaller side takes more than the test pressure. Stay at or below the test pressure, and verify zero on both sides afterwards.":
      "Un émbolo está entre dos volúmenes cerrados: el lado menor recibe más que la presión de prueba. No supere la presión de prueba y después compruebe presión cero en ambos lados.",
    "A load-holding valve traps pressure between itself and the piston, and keeps it when everything else is without pressure. Release it as the maker prescribes and verify zero there before anything is opened.":
      "Una válvula de retención de carga encierra presión entre ella y el émbolo, y la conserva cuando todo lo demás está sin presión. Descárguela como prescribe el fabricante y compruebe allí presión cero antes de abrir nada.",
    "The pressure can turn a pump's or motor's shaft: hold the shaft or take it off its load, and keep clear of what it drives.":
      "La presión puede hacer girar el eje de una bomba o de un motor: sujete el eje o sepárelo de su carga, y manténgase lejos de lo que acciona.",
    "Gas in an accumulator stores energy: shut it off, discharge its oil side and verify zero before anything is opened.":
      "El gas de un acumulador guarda energía: aíslelo, descargue su lado de aceite y compruebe presión cero antes de abrir nada.",
    "The pressure can reach brakes or steering: before the machine is used again, bleed them and check that they work.":
      "La presión puede llegar a los frenos o a la dirección: antes de volver a usar la máquina, púrguelos y compruebe que funcionan.",
    "Adapters, hoses, gauge and plugs must be rated for at least the test pressure.":
      "Adaptadores, mangueras, manómetro y tapones deben ser aptos al menos para la presión de prueba.",
    "Fill and bleed before raising pressure, raise it in steps from a source that stores little energy, such as a hand pump, and stand clear of the joints.":
      "Llene y purgue antes de subir la presión, súbala por etapas desde una fuente que acumule poca energía, como una bomba manual, y manténgase apartado de las uniones.",
    "Plug the line end that was taken off. Bring the pressure back to zero before any joint is touched again.":
      "Tapone el extremo de la línea que se desconectó. Vuelva a llevar la presión a cero antes de tocar otra vez una unión.",
    "The piston must be bottomed in the direction the pressure pushes it, or the load held mechanically, before pressure is applied: the opposite port is open and the actuator can move.":
      "Antes de aplicar presión, el émbolo debe estar a tope en la dirección en que la presión lo empuja, o la carga sujeta mecánicamente: la conexión opuesta está abierta y el actuador puede moverse.",
    "Adapters at the actuator's ports must be rated for the test pressure. Lead the open port to a container and keep clear of it.":
      "Los adaptadores en las conexiones del actuador deben ser aptos para la presión de prueba. Lleve la conexión abierta a un recipiente y manténgase apartado de ella.",
    "The pressure reaches an actuator and can move it: before it is applied, hold what the actuator moves mechanically, or have it at the end of its stroke in the direction the pressure pushes it. Oil trapped on its other side can stand at more than the test pressure.":
      "La presión llega a un actuador y puede moverlo: antes de aplicarla, sujete mecánicamente lo que el actuador mueve, o téngalo al final de su carrera en la dirección en que la presión lo empuja. El aceite atrapado en su otro lado puede estar a más que la presión de prueba.",
    "The cavity plug must be made for that cavity and rated for the test pressure.":
      "El tapón de la cavidad debe estar hecho para esa cavidad y ser apto para la presión de prueba.",
    "The part that was taken out no longer protects or holds this port: stay at or below the test pressure and refit it before the machine gets power.":
      "La pieza retirada ya no protege ni sostiene esta conexión: no pase de la presión de prueba y vuelva a montarla antes de dar energía a la máquina.",
    "In service this port is open to tank: it and what is joined to it may stand low pressure only. Take the test pressure from the maker's documents.":
      "En servicio esta conexión está abierta al tanque: ella y lo que le está unido pueden soportar solo baja presión. Tome la presión de prueba de la documentación del fabricante.",
    "The load is left up while its drift is measured: nobody stands under it or in its path, and the area is closed off until it is lowered again.":
      "La carga queda en alto mientras se mide su descenso: nadie está debajo ni en su recorrido, y la zona se cierra hasta que se baje de nuevo.",
    "Measure from a safe place; open nothing while the load is up.":
      "Mida desde un lugar seguro; no abra nada mientras la carga esté en alto.",
    "The machine runs during this test: guards stay on, everybody stays clear of what moves, and nothing is opened or tightened.":
      "La máquina funciona durante esta prueba: las protecciones quedan puestas, todos se apartan de lo que se mueve y no se abre ni se aprieta nada.",
    "Fit and remove the flow meter with the machine locked out and at zero pressure. The oil stays in a closed line; it is never measured into the open.":
      "Monte y retire el caudalímetro con la máquina bloqueada y a presión cero. El aceite queda en una línea cerrada; nunca se mide al aire libre.",
    "Meter, hoses and adapters must be rated for the full pressure and flow. Start with the load valve fully open and make sure that a relief protects the line; load it slowly.":
      "Medidor, mangueras y adaptadores deben ser aptos para la presión y el caudal completos. Empiece con la válvula de carga totalmente abierta y asegúrese de que una válvula limitadora protege la línea; cárguela despacio.",
    "Look with the machine off and the load down, with a lamp and a piece of card, not with the hand: a jet may be too fine to be seen.":
      "Mire con la máquina parada y la carga abajo, con una lámpara y un trozo de cartón, no con la mano: un chorro puede ser tan fino que no se vea.",
    "Measure without touching, or with a probe on a long lead, from where nothing moves: a valve that passes oil can be hot enough to burn.":
      "Mida sin tocar, o con una sonda de cable largo, desde donde nada se mueva: una válvula que deja pasar aceite puede quemar.",
  },
};

const languages = new Map<string, Strings>([
  ["en", english],
  ["de", german],
  ["es", spanish],
]);

/** Adds a language, or replaces one. What `strings` leaves out is English. */
export function addLanguage(language: string, strings: Partial<Strings>): void {
  languages.set(language.toLowerCase(), { ...english, ...strings });
}

/** The strings of a language tag such as "de-AT"; English if there are none. */
export function stringsOf(tag: string): Strings {
  const lower = tag.toLowerCase();
  return languages.get(lower) ?? languages.get(lower.split("-")[0]!) ?? english;
}

/** Puts values into a sentence. */
export function filled(sentence: string, values: Record<string, string | number>): string {
  return sentence.replace(/\{(\w+)\}/g, (whole, name: string) => String(own(values, name) ?? whole));
}
