// The rate of a playing video from the media times of the pictures that the screen showed.

/**
 * Times of shown pictures in seconds. A 60 Hz screen can't show all of a 240-a-second clip, so the smallest step is
 * a lower bound; only where the screen kept up (no step much longer than the smallest) is it the rate.
 * @param {number[]} times @returns {{value: number, sure: "measured" | "at_least"} | null}
 */
export function rateOf(times) {
  const steps = times.slice(1).map((time, index) => time - times[index]).filter((step) => step > 1e-4);
  if (steps.length < 8) return null;
  const sorted = [...steps].sort((a, b) => a - b);
  const usual = sorted[Math.floor(sorted.length / 2)];
  const smallest = sorted[Math.floor(sorted.length / 10)];
  const isEven = usual < smallest * 1.25;
  const value = 1 / (isEven ? usual : smallest);
  return { value, sure: isEven && value < 58 ? "measured" : "at_least" };
}
