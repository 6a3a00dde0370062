#version 330
uniform mat4 world_to_sun;
in vec3 position;
void main() { gl_Position = world_to_sun * vec4(position, 1); }
