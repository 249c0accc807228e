package faultodds;

import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;
import java.util.stream.Collectors;

/** The shared circuits and tables, and JSON text of values. */
final class Documents {
  static final Path ROOT = Path.of(System.getenv("FAULTODDS_SOURCE"));
  static final String LIFT = read(ROOT.resolve("tests/bindings/lift.json"));
  static final String RAM = read(ROOT.resolve("tests/bindings/ram.json"));
  static final String DRIFTS = lift("{\"observation\":\"drift/cylinder/retract\",\"outcome\":\"fast\"}");

  static final String CLOSED =
      "{\"format\":\"faultodds-closing/1\",\"work_order\":\"7\",\"closed\":\"2024-03-06\","
          + "\"found\":[{\"component\":\"cap_relief\",\"mode\":\"seat_leak\",\"grade\":\"failed\"}],\"sound\":[\"cylinder\"]}";

  private Documents() {}

  /** A case of the lift with these entries. */
  static String lift(String... entries) {
    return "{\"format\":\"faultodds-case/1\",\"circuit\":\"lift\",\"detail\":\"full\",\"observations\":["
        + String.join(",", entries) + "]}";
  }

  static String read(Path path) {
    try {
      return Files.readString(path);
    } catch (IOException problem) {
      throw new UncheckedIOException(problem);
    }
  }

  static String write(Object value) {
    if (value instanceof Map<?, ?> members) {
      return members.entrySet().stream()
          .map(member -> Json.quote((String) member.getKey()) + ":" + write(member.getValue()))
          .collect(Collectors.joining(",", "{", "}"));
    }
    if (value instanceof List<?> items) {
      return items.stream().map(Documents::write).collect(Collectors.joining(",", "[", "]"));
    }
    return value instanceof String text ? Json.quote(text) : String.valueOf(value);
  }
}
