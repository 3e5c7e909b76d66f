// Package monitor watches practices over calendar time: it sets revisions
// beside those expected of their joints, and draws a chart whose line is seldom
// touched by chance. Its input is plain: joints with the days of operation and
// exit, and cumulative hazards.
package monitor
