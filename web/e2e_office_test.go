package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tracemap/internal/store"
)

// openOffice shows a team's page in a browser; its certificate is made for the
// test.
func openOffice(t *testing.T, m *team, width, height int64, phone bool) *tab {
	t.Helper()
	b := browser(t, width, height, phone, chromedp.Flag("ignore-certificate-errors", true))
	b.do("open", chromedp.Navigate(m.srv.URL+"/"))
	b.wait("the form", `document.querySelector('input[name=password]') !== null`)
	return b
}

func (b *tab) logIn(name, word string) {
	b.t.Helper()
	b.js(`(() => { const f = document.querySelector('form.slim').elements; f.name.value = '` + name + `'; f.password.value = '` + word + `'; document.querySelector('form.slim').requestSubmit(); })()`)
}

// The administrator's way: log in, a wrong password first, make an account, read
// the log, choose units and look; and what happens when a session ends while a
// page is open.
func TestAdministratorsWay(t *testing.T) {
	for _, c := range []struct {
		name          string
		width, height int64
		phone         bool
	}{{"desktop", 1360, 850, false}, {"phone", 390, 844, true}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m := newTeam(t, nil)
			m.account(store.Administrator)
			b := openOffice(t, m, c.width, c.height, c.phone)
			b.checkAxeHere("login")
			b.logIn("administrator", "not this one")
			b.wait("the refusal", `document.querySelector('[role=alert]').innerText.includes('wrong')`)
			b.shot(c.name + "-login")
			b.logIn("administrator", password)
			b.wait("home", `document.querySelector('#choose') !== null`)
			b.click("#mine a", "Office")
			b.wait("the accounts", `document.querySelectorAll('tbody tr').length >= 2`)
			b.js(`(() => { const f = document.querySelector('form.fields'); f.elements.name.value = 'Ida Berg'; f.elements.role.value = 'engineer'; f.elements.password.value = 'weak'; f.requestSubmit(); })()`)
			b.wait("the weak password refused", `document.querySelector('#say').innerText.includes('shorter than 12')`)
			b.js(`(() => { const f = document.querySelector('form.fields'); f.elements.password.value = '` + password + `'; f.requestSubmit(); })()`)
			b.wait("the account", `[...document.querySelectorAll('th')].some(e => e.innerText === 'Ida Berg')`)
			b.checkAxeHere("office")
			b.shot(c.name + "-office")
			if got := b.js(`[...document.querySelectorAll('section')].at(-1).innerText`); !strings.Contains(got, "login refused") || !strings.Contains(got, "127.0.0.1") {
				t.Errorf("log: %.500s", got)
			}
			b.click("#mine a", "administrator")
			b.wait("the choices", `document.querySelector('input[value=dark]') !== null`)
			b.js(`document.querySelector('input[value=dark]').click()`)
			if got := b.js(`getComputedStyle(document.body).backgroundColor`); got != "rgb(12, 16, 19)" {
				t.Errorf("dark: background %s", got)
			}
			if !c.phone {
				b.checkAxeHere("choices")
			}
			b.shot(c.name + "-mine-dark")
			b.sessionEnds(m)
			if errs := b.js(`performance.getEntriesByType('resource').filter(e => !e.name.startsWith(location.origin)).length`); errs != "0" {
				t.Errorf("%s requests went elsewhere", errs)
			}
		})
	}
}

// sessionEnds has the administrator's session end while the page is open.
func (b *tab) sessionEnds(m *team) {
	b.t.Helper()
	role := store.Administrator
	if err := m.store.ChangeAccount(b.t.Context(), "cli", "administrator", store.AccountChange{Role: &role}, ""); err != nil {
		b.t.Fatal(err)
	}
	b.js(`document.querySelector('input[name=password_old]').value = 'typed already'`)
	b.js(`location.hash = '#/'`)
	b.wait("the form over the page", `document.querySelector('dialog.door[open]') !== null`)
	b.shot("again")
	b.js(`(() => { const f = document.querySelector('dialog form'); f.elements.password.value = '` + password + `'; f.requestSubmit(); })()`)
	b.wait("the form gone", `document.querySelector('dialog') === null`)
	b.click("#mine a", "administrator")
	b.wait("the choices", `document.querySelector('input[value=light]') !== null`)
	b.click("button", "Log out")
	b.wait("the form", `document.querySelector('form.slim input[name=name]') !== null`)
}

// An engineer is shown days and no way to bring any in.
func TestEngineerLooks(t *testing.T) {
	t.Parallel()
	m := newTeam(t, nil)
	m.account(store.Engineer)
	b := openOffice(t, m, 1200, 800, false)
	b.logIn("engineer", password)
	b.wait("home", `document.querySelector('#kept') !== null`)
	if got := b.js(`document.querySelector('#choose') === null && !document.querySelector('#mine').innerText.includes('Office')`); got != "true" {
		t.Error("an engineer is offered what would be refused")
	}
}
