package faultodds;

import java.util.ArrayList;
import java.util.Collections;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.OptionalInt;
import java.util.function.Function;

/** How the records of answers read their members from parsed JSON: what is not there or null is absent, or empty. */
final class Answered {
  private Answered() {}

  /** A document in which all that refers to cautions by id has their texts, those for all work first. */
  static Map<String, Object> document(String json) {
    Map<String, Object> document = Json.object(Json.parse(json));
    Object further = document.get("further_cautions");
    if (further != null) spellOut(document, Json.list(document.get("cautions")), Json.object(further));
    return document;
  }

  private static void spellOut(Object value, List<Object> general, Map<String, Object> further) {
    if (value instanceof List) {
      for (Object item : Json.list(value)) spellOut(item, general, further);
    } else if (value instanceof Map) {
      Map<String, Object> members = Json.object(value);
      for (Object member : members.values()) spellOut(member, general, further);
      if (!members.containsKey("caution_ids") || members.containsKey("cautions")) return;
      List<Object> all = new ArrayList<>(general);
      for (Object id : Json.list(members.get("caution_ids"))) all.add(further.get(id));
      members.put("cautions", all);
    }
  }

  static String text(Map<String, Object> of, String key) {
    return (String) of.get(key);
  }

  static Optional<String> textIfAny(Map<String, Object> of, String key) {
    return Optional.ofNullable((String) of.get(key));
  }

  static double number(Map<String, Object> of, String key) {
    return (Double) of.get(key);
  }

  static OptionalDouble numberIfAny(Map<String, Object> of, String key) {
    Object value = of.get(key);
    return value == null ? OptionalDouble.empty() : OptionalDouble.of((Double) value);
  }

  static int count(Map<String, Object> of, String key) {
    return ((Double) of.get(key)).intValue();
  }

  static OptionalInt countIfAny(Map<String, Object> of, String key) {
    return of.get(key) == null ? OptionalInt.empty() : OptionalInt.of(count(of, key));
  }

  static boolean flag(Map<String, Object> of, String key) {
    return Boolean.TRUE.equals(of.get(key));
  }

  /** Absent also where the member is a name in place of an object. */
  static <T> Optional<T> object(Map<String, Object> of, String key, Function<Object, T> read) {
    return of.get(key) instanceof Map ? Optional.of(read.apply(of.get(key))) : Optional.empty();
  }

  static <T> List<T> each(Map<String, Object> of, String key, Function<Object, T> read) {
    if (of.get(key) == null) return List.of();
    List<T> items = new ArrayList<>();
    for (Object item : Json.list(of.get(key))) items.add(read.apply(item));
    return List.copyOf(items);
  }

  static List<String> texts(Map<String, Object> of, String key) {
    return each(of, key, String.class::cast);
  }

  static List<List<String>> groups(Map<String, Object> of, String key) {
    return each(of, key, group -> Json.list(group).stream().map(String.class::cast).toList());
  }

  /** In the order of the document. */
  static <T> Map<String, T> byName(Map<String, Object> of, String key, Class<T> kind) {
    if (of.get(key) == null) return Map.of();
    Map<String, T> values = new LinkedHashMap<>();
    Json.object(of.get(key)).forEach((name, value) -> values.put(name, kind.cast(value)));
    return Collections.unmodifiableMap(values);
  }
}
