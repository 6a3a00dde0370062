#version 330
in vec2 corner;
out vec2 screen;
void main() { screen = corner; gl_Position = vec4(corner, .99999, 1); }
