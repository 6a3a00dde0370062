#version 330
// Adds one instant to the exposure; rows are read out one after the other.
uniform sampler2D instant;
uniform float when, half_width, shutter, readout;
in vec2 screen;
out vec4 colour_out;
void main() {
  float open = (.5 - .5 * screen.y) * readout, shut = open + shutter;
  float w = half_width <= 0. ? 1. : clamp(min(shut, when + half_width) - max(open, when - half_width), 0., 1.) / shutter + 1e-7;
  colour_out = texture(instant, screen * .5 + .5) * w;
}
