#version 330
uniform mat4 world_to_clip;
uniform mat4 world_to_sun;
uniform vec2 jitter;
in vec3 position; in vec3 normal; in vec3 colour; in float material; in vec3 rest; in float cut;
out vec3 place; out vec3 facing; out vec3 paint; out vec3 cloth; out float kind; out float keep; out vec4 sun_place;
void main() {
  keep = cut; place = position; facing = normal; paint = colour; kind = material; cloth = rest;
  sun_place = world_to_sun * vec4(position, 1);
  gl_Position = world_to_clip * vec4(position, 1);
  gl_Position.xy += jitter * gl_Position.w;
}
