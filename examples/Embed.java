import faultodds.Assessment;
import faultodds.Model;
import java.nio.file.Files;
import java.nio.file.Path;

/** Embed.java circuit.json case.json: the likeliest causes, and the best test with its cautions. */
class Embed {
  public static void main(String[] args) throws Exception {
    String circuit = Files.readString(Path.of(args[0])), work = Files.readString(Path.of(args[1]));
    try (Model model = new Model(circuit)) {
      Assessment answer = model.assess(work);
      for (Assessment.Causes of : answer.causes()) { // of the complaint, then of every other abnormal symptom
        of.shares().stream().limit(3).forEach(share -> System.out.printf("%3.0f%%  %s%n",
            100 * share.probability(), String.join(" and ", share.components())));
        System.out.printf("%3.0f%%  something else; %3.0f%%  nothing wrong%n", 100 * of.elsewhere(),
            100 * of.nothing());
      }
      Assessment.Test test = answer.tests().get(0);
      test.cautions().forEach(System.out::println);
      System.out.printf("%s: %.0f min%n%s%n", test.title(), test.minutes(), test.because());
    }
  }
}
