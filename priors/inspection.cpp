#include "priors/inspection.h"

#include <algorithm>
#include <set>
#include <string_view>

#include "core/wording/tokens.h"

namespace faultodds::priors {
namespace {

constexpr std::size_t kExamples = 3;

struct Named {
  const char* field;
  std::vector<const char*> names;  // without blanks and signs, small; likelier first
};

// What exports call our fields in English, German, French and Spanish: common practice, no source.
const std::vector<Named>& known_names() {
  static const std::vector<Named> names = {
      {"work_order",
       {"workorder",
        "workorderno",
        "workordernumber",
        "workorderid",
        "wo",
        "wono",
        "wonumber",
        "woid",
        "orderno",
        "ordernumber",
        "orderid",
        "order",
        "jobno",
        "jobnumber",
        "jobid",
        "job",
        "jobcard",
        "ticket",
        "notification",
        "auftrag",
        "auftragsnr",
        "auftragsnummer",
        "arbeitsauftrag",
        "ordendetrabajo",
        "orden",
        "ot",
        "ordredetravail",
        "ordre",
        "bt"}},
      {"closed",
       {"closed",        "dateclosed",      "closeddate",     "closedate",     "completed",
        "datecompleted", "completeddate",   "completiondate", "finished",      "finishdate",
        "actualfinish",  "enddate",         "datefinished",   "erledigt",      "erledigtam",
        "abgeschlossen", "abgeschlossenam", "abschlussdatum", "cloture",       "datecloture",
        "datedecloture", "cierre",          "fechacierre",    "fechadecierre", "basicstartdate",
        "bscstartdate",  "startdate",       "date",           "datum",         "fecha"}},
      {"opened", {"opened",      "dateopened",  "openeddate",    "opendate",     "created",
                  "datecreated", "createdon",   "reported",      "datereported", "raised",
                  "dateraised",  "requestdate", "eroeffnet",     "eroeffnetam",  "gemeldet",
                  "gemeldetam",  "ouverture",   "dateouverture", "apertura",     "fechaapertura"}},
      {"component",
       {"component", "componentcode", "compcode", "comp", "componenttype", "part", "partcode",
        "objectpart", "bauteil", "komponente", "baugruppe", "composant", "componente", "item"}},
      {"finding", {"finding", "failuremode",  "failurecode", "failure",   "fault",   "faultcode",
                   "damage",  "damagecode",   "problemcode", "causecode", "defect",  "befund",
                   "schaden", "schadensbild", "fehlerbild",  "defaut",    "constat", "modefalla",
                   "fallo",   "falla",        "hallazgo"}},
      {"grade", {"grade", "severity", "condition", "zustand", "gravite", "gravedad", "grado"}},
      {"hours",
       {"hours", "componenthours", "hourmeter", "smu", "smuhours", "meter", "meterreading",
        "runninghours", "betriebsstunden", "stunden", "bstd", "heures", "horas", "horometro"}},
      {"minutes", {"minutes", "minutesspent", "durationmin", "minuten", "minutos"}},
      {"line", {"line", "lineno", "item", "itemno", "position", "zeile", "ligne", "linea"}},
      {"asset_class",
       {"assetclass", "class", "model", "assetmodel", "machinetype", "equipmenttype", "fleet",
        "anlagenklasse", "klasse", "typ", "modele", "modelo", "clase"}},
      {"asset",
       {"asset",  "assetid",  "assetno", "assetnumber", "equipment",  "equipmentno", "equipmentid",
        "unit",   "unitno",   "machine", "machineid",   "vehicle",    "fleetno",     "maschine",
        "anlage", "fahrzeug", "equipo",  "maquina",     "equipement", "engin"}},
      {"site",
       {"site", "depot", "location", "branch", "standort", "niederlassung", "lieu", "sede"}},
      {"complaint", {"complaint", "symptom", "beanstandung", "plainte", "queja"}},
      {"text", {"text",           "originalshorttext",  "shorttext",
                "description",    "workdescription",    "orderdescription",
                "jobdescription", "problemdescription", "details",
                "comment",        "comments",           "remarks",
                "notes",          "worktext",           "kurztext",
                "beschreibung",   "bemerkung",          "designation",
                "libelle",        "descripcion",        "texto",
                "observaciones"}}};
  return names;
}

std::string compact(std::string_view header) {
  std::string letters;
  const std::string_view without_unit = header.substr(0, header.find_first_of("([{"));
  for (char c : wording::fold(without_unit)) {
    if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9')) letters += c;
  }
  return letters;
}

// Which column each field may be: by name, the likelier name first, no column twice.
void name_columns(std::vector<ColumnSeen>& columns) {
  std::set<std::size_t> taken;
  const auto take = [&](const char* field, std::size_t c) {
    columns[c].field = field;
    taken.insert(c);
  };
  for (const Named& known : known_names()) {
    // Our own name, as it stands, comes before everything else.
    for (std::size_t c = 0; c < columns.size(); ++c) {
      if (columns[c].name == known.field) take(known.field, c);
    }
  }
  for (const Named& known : known_names()) {
    if (std::any_of(columns.begin(), columns.end(),
                    [&](const ColumnSeen& column) { return column.field == known.field; })) {
      continue;
    }
    bool found = false;
    for (const char* name : known.names) {
      for (std::size_t c = 0; c < columns.size() && !found; ++c) {
        const bool dated = columns[c].holds == "dates";
        const std::string_view field = known.field;
        if ((field == "closed" || field == "opened") != dated && columns[c].holds != "nothing") {
          continue;
        }
        if ((field == "hours" || field == "minutes") && columns[c].holds != "numbers") continue;
        if (taken.contains(c) || compact(columns[c].name) != name) continue;
        take(known.field, c);
        found = true;
      }
      if (found) break;
    }
  }
  const auto has = [&](std::string_view field) {
    return std::any_of(columns.begin(), columns.end(),
                       [&](const ColumnSeen& column) { return column.field == field; });
  };
  // By what they hold, where only one can be meant.
  const auto only = [&](const char* field, const char* holds) {
    if (has(field)) return;
    std::size_t found = 0, count = 0;
    for (std::size_t c = 0; c < columns.size(); ++c) {
      if (taken.contains(c) || columns[c].holds != holds) continue;
      found = c;
      ++count;
    }
    if (count == 1) take(field, found);
  };
  only("closed", "dates");
  only("text", "text");
}

ColumnSeen column_seen(const std::string& name, const std::vector<std::string>& cells) {
  ColumnSeen column{name, "words", 0, 0, {}, {}};
  std::set<std::string> distinct;
  std::size_t words = 0;
  for (const std::string& cell : cells) {
    if (cell.find_first_not_of(" \t") == std::string::npos) continue;
    ++column.filled;
    words += wording::tokens_of(cell).size();
    if (!distinct.insert(cell).second || column.examples.size() >= kExamples) continue;
    column.examples.push_back(cell);
  }
  column.distinct = distinct.size();
  const DatesSeen dates = dates_seen(cells);
  const bool named_date = compact(name).find("dat") != std::string::npos ||
                          compact(name) == "closed" || compact(name) == "opened";
  // Eight digits and plain numbers may be days, but mostly they are numbers.
  const bool serial =
      dates.order == DateOrder::spreadsheet_days ||
      std::all_of(column.examples.begin(), column.examples.end(), [](const std::string& cell) {
        return cell.find_first_not_of("0123456789") == std::string::npos;
      });
  if (column.filled == 0) {
    column.holds = "nothing";
  } else if (2 * dates.cells > column.filled && (!serial || named_date)) {
    column.holds = "dates";
  } else if (2 * numbers_seen(cells).cells > column.filled) {
    column.holds = "numbers";
  } else if (words > 2 * column.filled && 4 * column.distinct > column.filled) {
    column.holds = "text";
  }
  return column;
}

}  // namespace

Inspection inspect(const Table& table) {
  Inspection seen;
  seen.encoding = table.encoding;
  seen.form = table.form;
  for (std::size_t c = 0; c < table.header.size(); ++c) {
    seen.columns.push_back(column_seen(table.header[c], table.columns[c]));
    seen.rows = std::max(seen.rows, table.columns[c].size());
  }
  name_columns(seen.columns);
  std::vector<std::string> dates, numbers;
  std::set<std::string> fields;
  for (std::size_t c = 0; c < seen.columns.size(); ++c) {
    const std::string& field = seen.columns[c].field;
    if (field.empty()) continue;
    fields.insert(field);
    seen.mapping.columns[field] = seen.columns[c].name;
    const bool dated = field == "closed" || field == "opened";
    const bool counted = field == "hours" || field == "minutes" || field == "sound_at";
    auto& into = dated ? dates : numbers;
    if (dated || counted) {
      into.insert(into.end(), table.columns[c].begin(), table.columns[c].end());
    }
  }
  seen.dates = dates_seen(dates);
  seen.numbers = numbers_seen(numbers);
  seen.mapping.encoding = table.encoding;
  seen.mapping.delimiter = table.form.delimiter;
  seen.mapping.rows_before = table.form.rows_before;
  if (!seen.dates.unclear) seen.mapping.dates = seen.dates.order;
  if (!seen.numbers.unclear) {
    seen.mapping.decimal_comma = seen.numbers.decimal_comma.value_or(false);
  } else if (table.form.delimiter == ',') {
    seen.mapping.decimal_comma = false;
    seen.numbers.unclear = false;
  }
  seen.has_codes = fields.contains("component") && fields.contains("finding");
  return seen;
}

void propose_codes(const std::vector<std::pair<std::string, std::string>>& component_and_finding,
                   const Coder& coder, double sure, Mapping& mapping) {
  const auto families = coder.families();
  for (const auto& [component, finding] : component_and_finding) {
    const Proposal named = coder.propose(component);
    if (named.certainty < sure || named.coded.component == kNotOurs ||
        named.coded.component == kUnclear) {
      // `learn` will say that it does not know the component; it is for the person to say.
    } else if (!mapping.types.contains(component)) {
      const auto family = families.find(named.coded.component);
      mapping.types[component] =
          family == families.end() ? named.coded.component : family->second.front();
    }
    const Proposal proposal = coder.propose(component + " " + finding);
    const std::string& mode = proposal.coded.finding;
    if (finding.empty() || mode.empty() || proposal.certainty < sure || mode == kNotStated ||
        mode == kNoSuchMode || proposal.coded.component != named.coded.component) {
      continue;
    }
    mapping.findings[component + "|" + finding] =
        mode == kSound ? std::vector<std::string>{} : std::vector<std::string>{mode};
  }
}

}  // namespace faultodds::priors
