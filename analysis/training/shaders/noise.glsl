// Value noise and four octaves of it, 0..1.
float cell(vec3 p) {
  p = fract(p * vec3(.1031, .1030, .0973));
  p += dot(p, p.yxz + 33.33);
  return fract((p.x + p.y) * p.z);
}
float noise(vec3 p) {
  vec3 i = floor(p), f = fract(p);
  f = f * f * (3. - 2. * f);
  return mix(mix(mix(cell(i), cell(i + vec3(1, 0, 0)), f.x),
                 mix(cell(i + vec3(0, 1, 0)), cell(i + vec3(1, 1, 0)), f.x), f.y),
             mix(mix(cell(i + vec3(0, 0, 1)), cell(i + vec3(1, 0, 1)), f.x),
                 mix(cell(i + vec3(0, 1, 1)), cell(i + vec3(1, 1, 1)), f.x), f.y), f.z);
}
float octaves(vec3 p) {
  return .5 * noise(p) + .25 * noise(p * 2.03) + .125 * noise(p * 4.1) + .0625 * noise(p * 8.2);
}
