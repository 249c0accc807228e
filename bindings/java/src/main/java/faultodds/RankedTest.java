package faultodds;

/**
 * One line of an open case's ranking. Its title, cautions and reason are in {@link Case#answer()}.
 *
 * @param observation id
 * @param energised needs power on or a load left up
 * @param informationBits about all failure modes
 * @param causeBits about the cause of the complaint
 * @param minutes setup not yet done included
 * @param bitsPerMinute what the order within a safety class rests on
 */
public record RankedTest(
    String observation, boolean energised, double informationBits, double causeBits, double minutes,
    double bitsPerMinute) {}
