package faultodds;

import com.sun.jna.Function;
import com.sun.jna.NativeLibrary;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.text.DecimalFormatSymbols;
import java.util.HashMap;
import java.util.Map;
import java.util.function.Supplier;

/** Prints what the library answers to the shared vectors, for in_locales to compare. */
final class Answers {
  private static final int LC_ALL = 6;

  private Answers() {}

  private static String told(Supplier<String> call) {
    try {
      return call.get();
    } catch (FaultoddsException refused) {
      return refused.code() + " " + refused.pointer() + " " + refused.sentence() + " " + refused.getMessage();
    }
  }

  private static String printed(Assessment answer) {
    return answer.json() + " " + answer.logEvidence().orElse(Double.NaN);
  }

  // Java's own locale, and that of C, which the machine's loader may have set or not.
  private static void checkLocale() {
    String name = System.getenv("FAULTODDS_LOCALE");
    Function setlocale = NativeLibrary.getInstance("c").getFunction("setlocale");
    String set = setlocale.invokePointer(new Object[] {LC_ALL, ""}).getString(0);
    char decimal = DecimalFormatSymbols.getInstance().getDecimalSeparator();
    if (!set.equals(name) || decimal != System.getenv("FAULTODDS_DECIMAL").charAt(0)) {
      throw new IllegalStateException("the locale is " + set + " and the decimal " + decimal + ", not as in " + name);
    }
  }

  public static void main(String[] arguments) {
    checkLocale();
    PrintStream out = new PrintStream(System.out, false, StandardCharsets.UTF_8);
    Map<String, Object> table =
        Json.object(Json.parse(Documents.read(Documents.ROOT.resolve("tests/vectors/assessments.json"))));
    Map<String, Model> models = new HashMap<>();
    for (Object entry : Json.list(table.get("vectors"))) {
      Map<String, Object> vector = Json.object(entry);
      String circuit = Documents.read(Documents.ROOT.resolve((String) vector.get("circuit")));
      String theCase = Documents.write(vector.get("case"));
      Model known = models.get(circuit);
      if (known != null) {
        out.println(told(() -> printed(known.assess(theCase))));
        continue;
      }
      Model model = new Model(circuit);
      models.put(circuit, model);
      out.println(told(() -> printed(Faultodds.assess(circuit, theCase))));
      out.println(told(() -> model.note(theCase)));
    }
    models.values().forEach(Model::close);
    StringBuilder rows = new StringBuilder("work_order,closed,asset_class,component,finding,grade,hours\n");
    for (int i = 0; i < 30; ++i) {
      rows.append("W-" + i + ",2024-03-05,loader,port_relief," + (i % 3 == 0 ? "seat_leak,failed" : "none,") + "," + (100 + 13.5 * i) + "\n");
    }
    out.println(told(() -> Priors.learn(Priors.Records.text(rows.toString()), new Priors.LearnOptions("depot")).pack()));
    out.println(Json.quote("\u0001\u001f"));
    out.flush();
  }
}
