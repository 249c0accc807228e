import faultodds.Assessment;
import faultodds.Model;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.Comparator;

/** Embed.java circuit.json case.json: the likeliest faults, and the best test with its cautions. */
class Embed {
  public static void main(String[] args) throws Exception {
    String circuit = Files.readString(Path.of(args[0])), work = Files.readString(Path.of(args[1]));
    try (Model model = new Model(circuit)) {
      Assessment answer = model.assess(work);
      answer.faults().stream()
          .sorted(Comparator.comparingDouble(Assessment.Fault::sound))
          .limit(3)
          .forEach(fault -> System.out.printf("%3.0f%%  %s: %s%n", 100 * (1 - fault.sound()),
              fault.component(), fault.title()));
      Assessment.Test test = answer.tests().get(0);
      test.cautions().forEach(System.out::println);
      System.out.printf("%s: %.0f min%n%s%n", test.title(), test.minutes(), test.because());
    }
  }
}
