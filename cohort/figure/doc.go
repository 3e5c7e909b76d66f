// Package figure draws figures from an audit: curves of cumulative revision,
// and what else is best seen. It computes no statistics of its own: every
// number drawn comes from the audit or its curves.
//
// # The way through
//
//  1. A constructor, such as [Curves], takes an audit and options and returns a
//     [Figure]: a drawing, the numbers it draws, and words about both.
//  2. [Figure.WriteSVG], [Figure.WritePNG] and [Figure.WritePDF] write the
//     drawing, [Figure.PlacePDF] puts it into a PDF document of the caller's,
//     [Figure.WriteCSV] writes its numbers.
//
// The same figure gives the same bytes each time.
//
// # What holds for every figure
//
// Lengths are points, 1/72 of an inch. A figure is as wide as the text of an A4
// page unless told otherwise, and as high as it needs to be.
//
// Own estimates are dark, published ones grey, and neither is told from the other
// by colour alone: a print in black and white says the same. What rests on few
// joints is thin and hollow, not pale; nothing is drawn below 10 at risk. Figures
// of different sources never share a mark.
//
// Surgeons and hospitals have letters unless they are to be named.
//
// Text is in Liberation Sans, which is part of the program, or in a font given
// to text.ReadFont. In SVG it is text that a reader's own fonts draw; in PNG and
// PDF letters that the font lacks are shown as their code points, such as U+738B,
// and letters that join or change places, or would leave groups alike, are
// refused.
//
// Words from a table may be anything. They lose control characters, are broken
// into as many lines as they need, keep their own direction of writing, and are
// escaped. Of a word longer than any line only the beginning is shown.
package figure
