#version 330
uniform mat4 clip_to_world;
uniform vec3 eye, sky_top, sky_horizon;
uniform int backdrop;
uniform float seed, opaque;
in vec2 screen;
out vec4 colour_out;
//NOISE
vec3 indoors(float az, float el) {
  vec3 c = vec3(.10, .11, .12) * (.8 + .4 * octaves(vec3(az * 30., el * 30., seed))) + .10 * smoothstep(.55, 1., el);
  float panel = step(.985, fract(az * 4.)) + step(.985, fract(el * 5.));
  return c * (1. - .35 * clamp(panel, 0., 1.));
}
vec3 outdoors(vec3 c, float az, float el) {
  float trees = .045 + .05 * octaves(vec3(az * 5., 0., seed + 3.)) + .02 * noise(vec3(az * 60., 0., seed));
  float near = .02 + .03 * octaves(vec3(az * 9., 1., seed + 9.));
  if (el < trees)
    c = mix(mix(vec3(.03, .06, .03), vec3(.10, .16, .06), octaves(vec3(az * 70., el * 90., seed))), sky_horizon, .25);
  if (el < near) c = mix(vec3(.02, .05, .02), vec3(.09, .15, .05), octaves(vec3(az * 120., el * 160., seed + 2.)));
  if (el < 0.) c = vec3(.09, .15, .05);
  if (el < .22 && el > -.02) {  // a range net on posts
    if (abs(fract(az * 3.2 + .13) - .5) < .006) c = mix(c, vec3(.25, .26, .27), .85);
    float x = abs(fract(az * 90.) - .5), y = abs(fract(el * 90.) - .5);
    c *= 1. - .10 * step(.42, max(x, y));
  }
  return c;
}
void main() {
  vec4 p = clip_to_world * vec4(screen, 1, 1);
  vec3 d = normalize(p.xyz / p.w - eye);
  float az = atan(d.y, d.x), el = asin(d.z);
  vec3 c = mix(sky_horizon, sky_top, smoothstep(0., .6, el));
  float cloud = octaves(vec3(d.xy / (abs(d.z) + .12) * 1.3, seed));
  c = mix(c, vec3(.95), smoothstep(.45, .75, cloud) * .6 * smoothstep(.02, .15, el));
  c = backdrop == 2 ? indoors(az, el) : outdoors(c, az, el);
  colour_out = opaque < .5 ? vec4(0) : vec4(c, 1.);
}
