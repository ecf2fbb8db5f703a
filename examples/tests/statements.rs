//! The short start keeps its promise: at most nine statements a board.
//!
//! Counted is every statement in the body of the function, those inside loops, conditions and blocks included: a `let`, an
//! expression with or without its semicolon. A loop or a condition is one statement, and what stands inside it counts again.

use syn::visit::{self, Visit};

/// Counts statements and function bodies.
#[derive(Default)]
struct Count {
    statements: usize,
}

impl<'ast> Visit<'ast> for Count {
    fn visit_stmt(&mut self, statement: &'ast syn::Stmt) {
        self.statements += 1;
        visit::visit_stmt(self, statement);
    }
}

/// The statements of the only function of a source text.
fn statements(source: &str) -> usize {
    let file = syn::parse_file(source).expect("a Rust source");
    let functions: Vec<&syn::ItemFn> = file
        .items
        .iter()
        .filter_map(|item| match item {
            syn::Item::Fn(function) => Some(function),
            syn::Item::Use(_) => None,
            _ => panic!("a hidden prelude: only `use` and the function may stand there"),
        })
        .collect();
    let [function] = functions[..] else { panic!("one function, not {}", functions.len()) };
    let mut count = Count::default();
    count.visit_block(&function.block);
    count.statements
}

#[test]
fn the_count_knows_loops_conditions_blocks_and_closures() {
    assert_eq!(statements("fn f() {}"), 0);
    assert_eq!(statements("fn f() { let a = 1; a }"), 2);
    assert_eq!(statements("fn f() { loop { if g() { h(); } k(|x| { y(x); z() }); } }"), 6);
}

#[test]
fn each_board_takes_at_most_nine_statements() {
    for (name, source, wanted) in [
        ("desk", include_str!("../src/short_start/desk.rs"), 7),
        ("dome", include_str!("../src/short_start/dome.rs"), 9),
        ("mast", include_str!("../src/short_start/mast.rs"), 8),
    ] {
        let count = statements(source);
        println!("{name}: {count} statements");
        assert!(count <= 9, "{name}: {count} statements");
        assert_eq!(count, wanted, "{name}: the docs say so");
    }
}
