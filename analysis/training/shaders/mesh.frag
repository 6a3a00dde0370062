#version 330
// Materials: 0 ground, 1 skin, 2 shirt (2.5 striped), 3 trousers, 4 smooth, 5 felt, 6 metal, 7 rubber, 8 ball.
uniform sampler2DShadow shadow_map;
uniform vec3 sun, sun_colour, sky, bounce, eye, stripe, haze;
uniform vec3 grass_dark, grass_light, mat_dark, mat_light;
uniform vec2 mat_centre;
uniform int backdrop;
uniform float softness, opaque;
in vec3 place; in vec3 facing; in vec3 paint; in vec3 cloth; in float kind; in float keep; in vec4 sun_place;
out vec4 colour_out;
//NOISE
float lit(float bias) {
  vec3 q = sun_place.xyz / sun_place.w * .5 + .5;
  if (q.x < 0. || q.x > 1. || q.y < 0. || q.y > 1.) return 1.;
  float a = cell(vec3(gl_FragCoord.xy, 1.)) * 6.283, sum = 0.;
  mat2 turn = mat2(cos(a), -sin(a), sin(a), cos(a));
  for (int i = 0; i < 6; i++) {
    float k = (float(i) + .5) / 6.;
    vec2 d = turn * vec2(cos(float(i) * 2.4), sin(float(i) * 2.4)) * sqrt(k) * softness;
    sum += texture(shadow_map, vec3(q.xy + d, q.z - bias));
  }
  return sum / 6.;
}
vec3 ground_colour() {
  float g = octaves(place * vec3(3., 3., 1.)) * .6 + noise(place * vec3(60., 60., 1.)) * .25
          + noise(place * vec3(220., 220., 1.)) * .25;
  g = mix(g, .55 + .3 * octaves(place * .35), clamp(length(place.xy) / 14., 0., 1.));
  vec3 c = backdrop == 2 ? vec3(.20, .20, .21) * (.75 + .4 * octaves(place * 9.)) : mix(grass_dark, grass_light, g);
  vec2 q = abs(place.xy - mat_centre);
  if (q.x < .85 && q.y < .78) {
    float f = noise(place * vec3(150., 150., 1.)) * .5 + noise(place * vec3(35., 35., 1.)) * .3;
    c = mix(mat_dark, mat_light, f);
    if (q.x > .83 || q.y > .76) c *= .45;
  }
  vec3 far = backdrop == 2 ? vec3(.13, .13, .135) : grass_dark * .3 + grass_light * .7;
  return mix(c, far, clamp((length(place.xy - eye.xy) - 6.) / 30., 0., .9));
}
void main() {
  if (keep < 0.) discard;
  vec3 n = normalize(facing), v = normalize(eye - place), c = paint;
  if (dot(n, v) < 0. && kind > .5 && kind < 8.5) n = -n;
  float shine = 0., gloss = 20.;
  int m = int(kind + .01);
  if (m == 0) c = ground_colour();
  else if (m == 2) {
    n = normalize(n + .35 * vec3(noise(cloth * 18.) - .5, noise(cloth * 18. + 7.) - .5, noise(cloth * 14. + 3.) - .5));
    c *= .9 + .2 * noise(cloth * 400.);
    if (kind > 2.3 && fract(cloth.z * 13.) < .16) c = mix(c, stripe, .85);
  } else if (m == 3) {
    n = normalize(n + .30 * vec3(noise(cloth * vec3(16., 16., 22.)) - .5, noise(cloth * 16. + 7.) - .5, noise(cloth * 20. + 3.) - .5));
    c *= .92 + .16 * noise(cloth * 500.);
  }
  else if (m == 1) { c *= .93 + .12 * noise(cloth * 60.); shine = .12; gloss = 14.; }
  else if (m == 4) { shine = .2; gloss = 30.; c *= .9 + .2 * noise(cloth * 120.); }
  else if (m == 5) c *= .93 + .14 * noise(cloth * 350.);
  else if (m == 6) { shine = 1.4; gloss = 60.; }
  else if (m == 7) { shine = .1; c *= .8 + .4 * noise(place * 300.); }
  else if (m == 8) { shine = .35; gloss = 40.; }
  float toward = dot(n, sun), light = lit(m == 0 ? .0012 : .0030);
  float direct = (m == 1 ? clamp((toward + .15) / 1.15, 0., 1.) : clamp(toward, 0., 1.)) * light;
  vec3 ambient = mix(bounce, sky, n.z * .5 + .5);
  float open = 1.;
  if (m >= 1 && m <= 5) open = .62 + .38 * clamp(.6 + .5 * dot(n, v), 0., 1.);
  if (m == 0) {
    float left = length(place.xy - vec2(.2, .02)), right = length(place.xy - vec2(-.2, .02));
    open = 1. - .45 * exp(-left * left * 40.) - .45 * exp(-right * right * 40.);
  }
  float glint = shine * pow(clamp(dot(n, normalize(sun + v)), 0., 1.), gloss) * light;
  float rim = pow(1. - clamp(dot(n, v), 0., 1.), 4.);
  vec3 r = c * (sun_colour * direct + ambient * open) + sun_colour * glint;
  if (m == 6) r += sky * (.25 + .7 * rim);
  if (m >= 1 && m <= 5) r += sky * .05 * rim;
  colour_out = vec4(r, 1.);
  // Without its own scene the ground only keeps the golfer's shadow, to lie on a picture.
  if (m == 0 && opaque < .5) colour_out = vec4(0, 0, 0, .55 * (1. - light) * step(length(place.xy), 4.));
}
