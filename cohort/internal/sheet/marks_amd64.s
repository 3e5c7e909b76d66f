#include "textflag.h"

// func marksIn(data *[strip]byte, delim byte) (marks, lines uint64)
//
// Sixteen bytes are compared at a time, the last first. X0 is the separator and X1 the line
// end, each sixteen times.
TEXT ·marksIn(SB), NOSPLIT, $0-32
	MOVQ    data+0(FP), SI
	MOVBLZX delim+8(FP), AX
	MOVQ    $0x0101010101010101, BX
	IMULQ   BX, AX
	MOVQ    AX, X0
	PUNPCKLQDQ X0, X0
	MOVQ    $0x0a0a0a0a0a0a0a0a, AX
	MOVQ    AX, X1
	PUNPCKLQDQ X1, X1
	XORQ    R8, R8
	XORQ    R9, R9
	MOVQ    $48, CX

next:
	MOVOU    (SI)(CX*1), X2
	MOVO     X2, X3
	PCMPEQB  X0, X2
	PCMPEQB  X1, X3
	PMOVMSKB X2, AX
	PMOVMSKB X3, BX
	SHLQ     $16, R8
	SHLQ     $16, R9
	ORQ      AX, R8
	ORQ      BX, R9
	SUBQ     $16, CX
	JGE      next

	ORQ  R9, R8
	MOVQ R8, marks+16(FP)
	MOVQ R9, lines+24(FP)
	RET

// PLACE writes the place of the lowest mark, and takes it away.
#define PLACE(at) \
	TZCNTQ AX, CX; \
	ADDQ   DX, CX; \
	MOVL   CX, at(DI); \
	LEAQ   -1(AX), BX; \
	ANDQ   BX, AX

// func place(to *places, first int, marks uint64)
//
// Eight places are written at a time, which a processor foresees more often than how many
// marks there are. One that does not know TZCNT takes it for BSF, which differs only where
// there is no mark left.
TEXT ·place(SB), NOSPLIT, $0-24
	MOVQ to+0(FP), DI
	MOVQ first+8(FP), DX
	MOVQ marks+16(FP), AX
	JMP  test

eight:
	PLACE(0)
	PLACE(4)
	PLACE(8)
	PLACE(12)
	PLACE(16)
	PLACE(20)
	PLACE(24)
	PLACE(28)
	ADDQ $32, DI

test:
	TESTQ AX, AX
	JNZ   eight
	RET
