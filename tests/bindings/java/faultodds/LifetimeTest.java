package faultodds;

import static org.junit.Assert.assertTrue;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.Test;

public class LifetimeTest {
  private static final String HELD =
      "{\"format\":\"faultodds-case/1\",\"advice\":false,\"observations\":"
          + "[{\"observation\":\"static/ram.cap\",\"outcome\":\"held\"}]}";

  // Bytes of memory this process has now. The compiler of the virtual machine is in it, so the bounds are
  // such that a leak of a hundred bytes in each call would pass them.
  private static long resident() throws IOException {
    System.gc();
    return 4096 * Long.parseLong(Files.readString(Path.of("/proc/self/statm")).split(" ")[1]);
  }

  private static void fiveCalls(Model model) {
    model.assess(HELD);
    try {
      model.assess("{}");
    } catch (FaultoddsException refused) {
      // as it must be; its error object is what is tested here
    }
    try (Case theCase = model.openCase()) {
      theCase.observe("static/ram.cap", "bled_down");
      theCase.assess();
      theCase.posteriors();
    }
  }

  @Test
  public void aHundredThousandCallsLeaveNothingBehind() throws IOException {
    try (Model model = new Model(Documents.RAM)) {
      for (int i = 0; i < 5000; ++i) fiveCalls(model);
      long before = resident();
      for (int i = 0; i < 20000; ++i) fiveCalls(model);
      long grown = resident() - before;
      assertTrue("grew by " + grown + " bytes", grown < 8L << 20);
    }
  }

  @Test
  public void modelsAreFreedWithAndWithoutClose() throws Exception {
    for (int i = 0; i < 100; ++i) forgotten();
    System.gc();
    Thread.sleep(200);
    long before = resident();
    for (int i = 0; i < 1000; ++i) {
      forgotten();
      if (i % 100 == 99) {
        System.gc(); // the collector does not see how large a model is
        Thread.sleep(20);
      }
    }
    long grown = resident() - before;
    assertTrue("grew by " + grown + " bytes", grown < 8L << 20);
  }

  @SuppressWarnings("resource") // on purpose
  private static void forgotten() {
    new Model(Documents.LIFT).close();
    new Model(Documents.LIFT).openCase();
  }
}
